"""Days and hours of the month: day 1 is Thursday 5 March 2026, local to a site."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from reprocess.terms import instant

FIRST: Final = datetime(2026, 3, 5)  # noqa: DTZ001 - a local day, of whichever site
LONDON: Final = "Europe/London"
HALIFAX: Final = "America/Halifax"
DAYS: Final = 35


def at(day: int, hour: int, minute: int = 0, zone: str = LONDON) -> int:
    """Returns the instant of a local time on a day of the month, counted from 1; day 0 is the day before."""
    local = (FIRST + timedelta(days=day - 1)).replace(hour=hour, minute=minute, tzinfo=ZoneInfo(zone))
    return instant(local)


def local_hour(at_us: int, zone: str = LONDON) -> str:
    """Returns an instant as a site's local hour with its offset, such as `03:07 -0300`."""
    return datetime.fromtimestamp(at_us / 1_000_000, ZoneInfo(zone)).strftime("%H:%M %z")
