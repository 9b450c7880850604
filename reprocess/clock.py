"""The only place that reads the time, and that makes ids; beside it the clock of a story, which moves when told."""

from __future__ import annotations

import os
import platform
import secrets
import time
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Protocol

from reprocess.errors import LedgerError
from reprocess.record.moment import Moment
from reprocess.terms import SECOND_US


class Clock(Protocol):
    """Is what the shell asks for the time; tests and the demo bring their own."""

    def now(self) -> Moment:
        """Returns one reading of all clocks."""
        ...

    def new_id(self) -> str:
        """Returns an id that was never given before and sorts by time."""
        ...


class SystemClock:
    """Reads the clocks of this computer."""

    def now(self) -> Moment:
        """Returns one reading of all clocks; a boot-time clock only where the system has one."""
        running = time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1000 if hasattr(time, "CLOCK_BOOTTIME") else None
        return Moment(
            wall_us=time.time_ns() // 1000,
            mono_us=time.monotonic_ns() // 1000,
            running_us=running,
            boot=boot_id(),
            node=node_name(),
        )

    def new_id(self) -> str:
        """Returns a UUID version 7 (RFC 9562): 48 bits of milliseconds, the rest random."""
        return random_id(time.time_ns() // 1000)


def random_id(wall_us: int) -> str:
    """Returns a new UUID version 7 of an instant (RFC 9562): 48 bits of milliseconds, the rest random."""
    return uuid7(wall_us // 1000, secrets.randbits(74))


def uuid7(milliseconds: int, chance: int) -> str:
    """Returns a UUID version 7 made of a time in milliseconds and 74 bits of chance (RFC 9562, section 5.7)."""
    high, low = chance >> 62, chance & ((1 << 62) - 1)
    number = ((milliseconds & ((1 << 48) - 1)) << 80) | (7 << 76) | ((high & 0xFFF) << 64) | (2 << 62) | low
    text = f"{number:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


@cache
def boot_id() -> str:
    """Returns the id of this boot; where the system gives none, an id of this process alone.

    Two readings count as one boot only when their ids are equal, so the fallback proves less, never more.
    """
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return f"process-{os.getpid()}-{secrets.token_hex(8)}"


@cache
def node_name() -> str:
    """Returns the name of this computer, in printable ASCII of at most 64 characters."""
    name = platform.node() or "unnamed"
    return "".join(letter if letter.isascii() and letter.isprintable() else "?" for letter in name)[:64]


STORY_BOOT = "larkmoor-demo"
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
        return Moment(self.wall_us, self.running_us, self.running_us, STORY_BOOT, "larkmoor")

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
    aside = clock_path(path).with_suffix(".aside")
    aside.write_text(f"{clock.wall_us} {clock.running_us} {clock.count}\n", encoding="ascii")
    aside.replace(clock_path(path))


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
        self._turn = Lock()

    def now(self) -> Moment:
        """Returns the next second of the story."""
        with self._turn:
            self.push(1)
            keep(self, self.path)
            return super().now()
