"""The clock of a demo department: it keeps its own "now" in a file beside the database and moves only when told."""

from __future__ import annotations

from pathlib import Path

from reprocess.clock import Clock, SystemClock, uuid7
from reprocess.errors import LedgerError
from reprocess.record.moment import Moment
from reprocess.terms import SECOND_US

BOOT = "larkmoor-demo"
RUNNING_SINCE_US = 1_000_000_000


class StoryClock:
    """Is a clock that stands still between two pushes; ids are counted, so that a story repeats itself exactly."""

    def __init__(self, start_us: int, count: int = 0) -> None:
        self.wall_us = start_us
        self.started_us = start_us
        self.running_us = RUNNING_SINCE_US
        self.count = count

    def now(self) -> Moment:
        """Returns one reading of all clocks of the story."""
        return Moment(self.wall_us, self.running_us, self.running_us, BOOT, "larkmoor")

    def new_id(self) -> str:
        """Returns the next id of the story."""
        self.count += 1
        return uuid7(self.wall_us // 1000, self.count)

    def push(self, seconds: float) -> None:
        """Lets time pass."""
        step = int(seconds * SECOND_US)
        self.wall_us += step
        self.running_us += step


def clock_path(path: Path) -> Path:
    """Returns where a demo department keeps its "now"."""
    return path.with_name(path.name + ".now")


def keep(clock: StoryClock, path: Path) -> None:
    """Writes the story's "now" beside the database."""
    clock_path(path).write_text(f"{clock.wall_us} {clock.running_us} {clock.count}\n", encoding="ascii")


def clock_for(path: Path) -> Clock:
    """Returns the clock of a department: the computer's, or the story's own where the department is a demo.

    Raises:
        LedgerError: the demo's "now" cannot be read.
    """
    kept = clock_path(path)
    if not kept.exists():
        return SystemClock()
    try:
        wall, running, count = (int(word) for word in kept.read_text(encoding="ascii").split())
    except (OSError, ValueError) as fault:
        message = f"{kept.name} cannot be read; make the demo again."
        raise LedgerError(message) from fault
    clock = _Kept(wall, count, path)
    clock.running_us = running
    return clock


class _Kept(StoryClock):
    """Goes on by one second for each command and remembers it."""

    def __init__(self, start_us: int, count: int, path: Path) -> None:
        super().__init__(start_us, count)
        self.path = path

    def now(self) -> Moment:
        """Returns the next second of the story."""
        self.push(1)
        keep(self, self.path)
        return super().now()
