"""The only place that reads the time, and that makes ids."""

from __future__ import annotations

import os
import platform
import secrets
import time
from functools import cache
from pathlib import Path
from typing import Protocol

from reprocess.record.moment import Moment


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
        return uuid7(time.time_ns() // 1_000_000, secrets.randbits(74))


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
