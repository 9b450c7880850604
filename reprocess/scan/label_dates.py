"""The days that device labels write down, with two digits for the year or with a day number.

A label is read in some year; `this_year` is that calendar year, so that no clock is asked here.
"""

from calendar import monthrange
from datetime import date, timedelta

_YEARS_AHEAD_MOST = 50
_CENTURY = 100


def full_year(two_digits: int, this_year: int) -> int:
    """Returns the year that two digits stand for: from 49 years ago to 50 years ahead.

    Source: GS1 General Specifications, section 7.12, as described in the documentation of biip 5.2.
    """
    ahead = (two_digits - this_year) % _CENTURY
    return this_year + (ahead if ahead <= _YEARS_AHEAD_MOST else ahead - _CENTURY)


def calendar_day(year: int, month: int, day: int) -> date | None:
    """Returns the day, or None where the calendar has no such day."""
    try:
        return date(year, month, day)
    except ValueError:
        return None


def last_day(year: int, month: int) -> date | None:
    """Returns the last day of a month, or None where there is no such month."""
    if calendar_day(year, month, 1) is None:
        return None
    return date(year, month, monthrange(year, month)[1])


def numbered_day(year: int, number: int) -> date | None:
    """Returns the day with that number in its year, counted from 1, or None where there is none."""
    first = calendar_day(year, 1, 1)
    last = calendar_day(year, 12, 31)
    if first is None or last is None or not 1 <= number <= last.timetuple().tm_yday:
        return None
    return first + timedelta(days=number - 1)
