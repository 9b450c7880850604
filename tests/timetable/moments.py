"""Instants and clock readings for tests of the timetable; local times are given with their offset."""

from __future__ import annotations

from datetime import datetime

from reprocess.record.moment import Moment
from reprocess.terms import SECOND_US, instant

BOOT_US = 1_000_000_000


def at(text: str) -> int:
    """The instant of an ISO time with its offset."""
    return instant(datetime.fromisoformat(text))


def reading(wall_us: int, mono_s: float, boot: str = "boot-1", node: str = "bench-1") -> Moment:
    """One reading of all clocks: the wall, and so many seconds on the running clock."""
    mono_us = BOOT_US + int(mono_s * SECOND_US)
    return Moment(wall_us, mono_us, mono_us, boot, node)
