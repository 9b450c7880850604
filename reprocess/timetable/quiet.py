"""The hours in which a role is not rung at, in the local time of a site, over both changes of the clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from reprocess.terms import instant
from reprocess.timetable.days import local_date


def quiet_until(hours: tuple[str, str], zone: str, now_us: int) -> int | None:
    """Returns when the quiet hours end that an instant lies in, or None where it lies in none.

    They are spans of instants from one local time to another, so that they begin and end once a night: a local time
    that comes twice counts when it comes first, and one that the clocks skip counts so much later.

    Args:
        hours: when they begin and end, such as `("22:00", "06:00")`; an end that is not later is the next day's.
        zone: the time zone of the site.
        now_us: the instant.
    """
    begins, ends = (time.fromisoformat(one) for one in hours)
    today = local_date(zone, now_us)
    for day in (today - timedelta(days=1), today):
        last = day if ends > begins else day + timedelta(days=1)
        until_us = _at(zone, last, ends)
        if _at(zone, day, begins) <= now_us < until_us:
            return until_us
    return None


def _at(zone: str, day: date, hour: time) -> int:
    return instant(datetime.combine(day, hour, tzinfo=ZoneInfo(zone)).astimezone(UTC))
