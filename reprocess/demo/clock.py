"""The story's clock stands beside the computer's in `reprocess.clock`."""

from reprocess.clock import StoryClock, clock_for, clock_path, keep

__all__ = ["StoryClock", "clock_for", "clock_path", "keep"]
