"""How much time two clock readings prove, by a second reading of the clock rule."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from tests.oracle.rows import Row

SECOND_US = 1_000_000


def passed_us(start: Row, end: Row) -> int:
    """Returns the time that a clock was seen running between two entries; nothing across a reboot or two nodes."""
    (_, mono, _, *boot), (_, later, _, *same) = start["moment"], end["moment"]
    return int(later - mono) if boot == same and later >= mono else 0


def at_most_us(start: Row, end: Row) -> int | None:
    """Returns the time that went by at least as the boot-time clock has it, sleep included; None across a reboot."""
    (_, mono, running, *boot), (_, later, ran, *same) = start["moment"], end["moment"]
    if boot != same or later < mono:
        return None
    return int(later - mono) if running is None or ran is None else int(ran - running)


def wall_us(start: Row, end: Row) -> int:
    """Returns what the wall clock alone says."""
    return int(end["moment"][0] - start["moment"][0])


def local_date(zone: str, at_us: int) -> date:
    """Returns the local date of an instant."""
    return datetime.fromtimestamp(at_us / SECOND_US, ZoneInfo(zone)).date()
