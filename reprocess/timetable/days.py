"""Local dates: when a day begins and ends at a site."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from reprocess.rules.inspection import local_date
from reprocess.terms import instant

__all__ = ["at_hour", "end_of_day", "local_date"]

MORNING: Final = 7
"""Local hour at which reminders about days ring: the start of the early shift (site parameter with this default)."""


def at_hour(zone: str, day: date, hour: int = MORNING) -> int:
    """Returns the instant of a local hour; a midnight that the clocks skip is when the day begins, of two the first."""
    return instant(datetime.combine(day, time(hour), tzinfo=ZoneInfo(zone)).astimezone(UTC))


def end_of_day(zone: str, day: date) -> int:
    """Returns the instant at which a local day has ended."""
    return at_hour(zone, day + timedelta(days=1), 0)
