"""Local dates: when a day begins and ends at a site, and which day a month later is."""

from __future__ import annotations

from calendar import monthrange
from datetime import UTC, date, datetime, time, timedelta
from typing import Final, Literal
from zoneinfo import ZoneInfo

from reprocess.terms import as_datetime, instant

MORNING: Final = 7
"""Local hour at which reminders about days ring: the start of the early shift (site parameter with this default)."""

Reading = Literal["to-the-day", "end-of-month"]
"""How "within a month" or "within a year" is read: to the day, or to the end of the month that day lies in."""


def local_date(zone: str, at_us: int) -> date:
    """Returns the site's date at an instant."""
    return as_datetime(at_us).astimezone(ZoneInfo(zone)).date()


def at_hour(zone: str, day: date, hour: int = MORNING) -> int:
    """Returns the instant of a local hour; a midnight that the clocks skip is when the day begins, of two the first."""
    return instant(datetime.combine(day, time(hour), tzinfo=ZoneInfo(zone)).astimezone(UTC))


def end_of_day(zone: str, day: date) -> int:
    """Returns the instant at which a local day has ended."""
    return at_hour(zone, day + timedelta(days=1), 0)


def months_on(last: date, months: int, *, anchor: int | None = None, reading: Reading = "to-the-day") -> date:
    """Returns the day some months after `last`, on the anchored day of the month, clipped to the month's length (Q03).

    The anchor counts only while the work is done on the anchored day (or on its month's last day where the month is
    too short): 31 January, 28 February, 31 March. Done on another day, that day is the new anchor, so that no
    interval grows longer than the months allow.
    """
    kept = last.day
    if anchor is not None and last.day == min(anchor, _length(last.year, last.month)):
        kept = anchor
    year, month0 = divmod(last.year * 12 + last.month - 1 + months, 12)
    length = _length(year, month0 + 1)
    return date(year, month0 + 1, length if reading == "end-of-month" else min(kept, length))


def _length(year: int, month: int) -> int:
    return monthrange(year, month)[1]
