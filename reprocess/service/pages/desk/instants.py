"""Instants that somebody typed at the desk, in the time zone of their site."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Final
from zoneinfo import ZoneInfo

from reprocess.service.problems import ProblemError
from reprocess.terms import SECOND_US

YEARS: Final = range(1970, 2200)
"""Years that somebody can mean (our choice); the record counts from 1970 on."""


def instant_of(text: str, zone: str) -> datetime:
    """Returns the instant that a date and a time of day of a site mean (`2026-03-05T14:05`, WHATWG HTML 2.3.5.5).

    Raises:
        ProblemError: it is no date and time.
    """
    try:
        read = datetime.fromisoformat(text)
    except ValueError as fault:
        raise _unread(text, "date and time such as 2026-03-05T14:05") from fault
    if read.year not in YEARS:
        raise _unread(text, "date and time such as 2026-03-05T14:05")
    return read if read.tzinfo is not None else read.replace(tzinfo=ZoneInfo(zone))


def day_us(text: str, zone: str, at: time) -> int:
    """Returns a moment of a day at a site, in microseconds since 1970.

    Raises:
        ProblemError: it is no day such as 2026-03-05.
    """
    try:
        day = date.fromisoformat(text)
    except ValueError as fault:
        raise _unread(text, "day such as 2026-03-05") from fault
    if day.year not in YEARS:
        raise _unread(text, "day such as 2026-03-05")
    return int(datetime.combine(day, at, ZoneInfo(zone)).timestamp()) * SECOND_US


def _unread(text: str, wanted: str) -> ProblemError:
    return ProblemError("invalid", f"{text[:20]} is no {wanted}. Nothing was recorded.")
