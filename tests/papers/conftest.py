"""The small department of the engine's tests."""

from tests.engine.fixtures import floor, prepared

__all__ = ["floor", "prepared"]
