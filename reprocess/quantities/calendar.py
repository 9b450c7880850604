"""Calendar rules: monthly, at most three-monthly, annual, every so many days or weeks.

All days are a site's local days; which day it is there is decided elsewhere, so there are no time
zones here. The due day is the last day on which the work is in time; the day after it is overdue by one.

"Monthly" and "annual" are read in more than one way, and the sources do not agree:

* the same day of a later month, or that month's last day where it is too short;
* at any time within the later calendar month, so up to its last day (for a year: DOE's reading of
  29 CFR 1910, the end of the anniversary month);
* thirty days for a month (common practice, no source).

Each reading has its name, and none is the default. `earliest_due` is the one that fits them all.
"""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum, unique
from typing import assert_never

from reprocess.quantities.exact import require

DAYS_MAX = 36_525
"""A century. Our own choice."""

MONTHS_MAX = 1_200
"""A century. Our own choice."""

DAYS_IN_A_WEEK = 7
DAYS_FOR_A_MONTH = 30
MONTHS_IN_A_QUARTER = 3
MONTHS_IN_A_YEAR = 12
DAY_OF_MONTH_MAX = 31


@unique
class Reading(StrEnum):
    """How "a month later" is read; the values are stored words."""

    SAME_DAY = "same-day"
    """The same day of the later month; its last day where it is too short."""
    WITHIN_THE_MONTH = "within-the-month"
    """Any day of the later month, so its last day is the due day."""
    THIRTY_DAYS = "thirty-days"
    """Thirty days for each month."""


@dataclass(frozen=True, slots=True)
class Days:
    """Every so many days, from 1.

    Raises:
        ValueError: the number is not 1 to a century of days.
    """

    days: int

    def __post_init__(self) -> None:
        require(f"An interval is 1 to {DAYS_MAX} days.", holds=1 <= self.days <= DAYS_MAX)


@dataclass(frozen=True, slots=True)
class Months:
    """Every so many months, from 1, read in a named way.

    Raises:
        ValueError: the number is not 1 to a century of months.
    """

    months: int
    reading: Reading

    def __post_init__(self) -> None:
        require(f"An interval is 1 to {MONTHS_MAX} months.", holds=1 <= self.months <= MONTHS_MAX)


Interval = Days | Months


def every_days(days: int) -> Days:
    """Returns the interval of so many days."""
    return Days(days)


def every_weeks(weeks: int) -> Days:
    """Returns the interval of so many weeks."""
    return Days(weeks * DAYS_IN_A_WEEK)


def monthly(reading: Reading) -> Months:
    """Returns the interval of a month."""
    return Months(1, reading)


def at_most_three_monthly(reading: Reading) -> Months:
    """Returns the interval of three months; work done earlier starts it anew, so none grows longer."""
    return Months(MONTHS_IN_A_QUARTER, reading)


def annual(reading: Reading) -> Months:
    """Returns the interval of twelve months."""
    return Months(MONTHS_IN_A_YEAR, reading)


def next_due(interval: Interval, last: date, *, anchor_day: int | None = None) -> date:
    """Returns the last day on which the work is in time, when it was last done on `last`.

    `anchor_day` is the day of the month, 1 to 31, that a series by the same day began on; other readings
    have no use for it. It counts only while the work is done on that day (or on the month's last day
    where the month is too short): 31 January, 28 February, 31 March. Done on another day, that day is
    the new anchor, so that no interval grows longer than its months.

    Raises:
        ValueError: the anchor is no day of a month, or the due day would lie past the year 9999.
    """
    _require_anchor(anchor_day)
    if isinstance(interval, Days):
        return _days_on(last, interval.days)
    match interval.reading:
        case Reading.SAME_DAY:
            return same_day(last, interval.months, anchor_day=_kept(last, anchor_day))
        case Reading.WITHIN_THE_MONTH:
            return within_the_month(last, interval.months)
        case Reading.THIRTY_DAYS:
            return thirty_days(last, interval.months)
        case _:
            assert_never(interval.reading)


def same_day(last: date, months: int, *, anchor_day: int | None = None) -> date:
    """Returns the anchored day of the month so many months after `last`, or that month's last day.

    Where no anchor is given, the day of `last` is it. From 31 January a month on lies 28 or 29 February.

    Raises:
        ValueError: the anchor is no day of a month, the months are none, or the day lies past the year 9999.
    """
    _require_anchor(anchor_day)
    year, month = _months_on(last, months)
    return date(year, month, min(anchor_day or last.day, length(year, month)))


def within_the_month(last: date, months: int) -> date:
    """Returns the last day of the month so many months after the one of `last`; the day of `last` does not matter.

    Raises:
        ValueError: the months are none, or the day lies past the year 9999.
    """
    year, month = _months_on(last, months)
    return date(year, month, length(year, month))


def thirty_days(last: date, months: int) -> date:
    """Returns the day thirty days after `last` for each month.

    Raises:
        ValueError: the months are none, or the day lies past the year 9999.
    """
    require(f"An interval is 1 to {MONTHS_MAX} months.", holds=1 <= months <= MONTHS_MAX)
    return _days_on(last, months * DAYS_FOR_A_MONTH)


def earliest_due(months: int, last: date, *, anchor_day: int | None = None) -> date:
    """Returns the earliest due day of all readings: whoever keeps to it keeps to each of them.

    Raises:
        ValueError: the anchor is no day of a month, the months are none, or the day lies past the year 9999.
    """
    return min(next_due(Months(months, reading), last, anchor_day=anchor_day) for reading in Reading)


def occurrence(interval: Interval, anchor: date, number: int) -> date:
    """Returns the due day of a series that began on `anchor`, if each is done on its day; `number` counts from 1.

    It is reckoned from the anchor and not from the day before it, so a series by months never drifts.

    Raises:
        ValueError: the number is not above zero or spans more than a century.
    """
    require("Occurrences count from 1.", holds=number >= 1)
    if isinstance(interval, Days):
        return next_due(Days(interval.days * number), anchor)
    return next_due(Months(interval.months * number, interval.reading), anchor)


def overdue_days(due: date, today: date) -> int:
    """Returns by how many days the work is overdue: 0 up to and on the due day, 1 on the day after."""
    return max(0, (today - due).days)


def days_left(due: date, today: date) -> int:
    """Returns how many days are left until the due day: 0 on it and after it."""
    return max(0, (due - today).days)


def length(year: int, month: int) -> int:
    """Returns how many days a month has."""
    return monthrange(year, month)[1]


def _kept(last: date, anchor_day: int | None) -> int:
    """Returns the anchor while the work was done on it, else the day on which it was done."""
    if anchor_day is not None and last.day == min(anchor_day, length(last.year, last.month)):
        return anchor_day
    return last.day


def _months_on(last: date, months: int) -> tuple[int, int]:
    require(f"An interval is 1 to {MONTHS_MAX} months.", holds=1 <= months <= MONTHS_MAX)
    year, month0 = divmod(last.year * MONTHS_IN_A_YEAR + last.month - 1 + months, MONTHS_IN_A_YEAR)
    require("A due day past the year 9999 cannot be written.", holds=year <= date.max.year)
    return year, month0 + 1


def _days_on(last: date, days: int) -> date:
    require("A due day past the year 9999 cannot be written.", holds=days <= (date.max - last).days)
    return last + timedelta(days=days)


def _require_anchor(anchor_day: int | None) -> None:
    require(
        f"An anchor is a day of a month, 1 to {DAY_OF_MONTH_MAX}.",
        holds=anchor_day is None or 1 <= anchor_day <= DAY_OF_MONTH_MAX,
    )
