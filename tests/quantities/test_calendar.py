"""A due day is after the last one, never past its month, and a series never drifts from its anchor."""

import calendar as library
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.calendar import (
    DAYS_MAX,
    MONTHS_MAX,
    Days,
    Interval,
    Months,
    Reading,
    annual,
    at_most_three_monthly,
    days_left,
    earliest_due,
    every_days,
    every_weeks,
    monthly,
    next_due,
    occurrence,
    overdue_days,
    same_day,
    thirty_days,
    within_the_month,
)
from tests.quantities.refusing import answer

days_ = st.dates(date(1990, 1, 1), date(2120, 12, 31))
months_ = st.integers(1, 60)
anchors = st.none() | st.integers(1, 31)
readings = st.sampled_from(Reading)
intervals: st.SearchStrategy[Interval] = st.builds(Days, st.integers(1, 4000)) | st.builds(Months, months_, readings)
LAST_OF_JANUARY = date(2026, 1, 31)


@pytest.mark.parametrize(
    ("reading", "due"),
    [
        (Reading.SAME_DAY, date(2026, 2, 28)),
        (Reading.WITHIN_THE_MONTH, date(2026, 2, 28)),
        (Reading.THIRTY_DAYS, date(2026, 3, 2)),
    ],
)
def test_a_month_from_the_last_of_january_as_each_reading_has_it(reading: Reading, due: date) -> None:
    assert next_due(monthly(reading), LAST_OF_JANUARY) == due


@pytest.mark.parametrize(
    ("reading", "due"),
    [
        (Reading.SAME_DAY, date(2026, 2, 10)),
        (Reading.WITHIN_THE_MONTH, date(2026, 2, 28)),
        (Reading.THIRTY_DAYS, date(2026, 2, 9)),
    ],
)
def test_a_month_from_the_tenth_of_january_as_each_reading_has_it(reading: Reading, due: date) -> None:
    assert next_due(monthly(reading), date(2026, 1, 10)) == due
    assert earliest_due(1, date(2026, 1, 10)) == date(2026, 2, 9)


def test_the_named_intervals() -> None:
    same = Reading.SAME_DAY
    assert next_due(at_most_three_monthly(same), date(2025, 11, 30)) == date(2026, 2, 28)
    assert next_due(annual(same), date(2024, 2, 29)) == date(2025, 2, 28)
    assert next_due(annual(same), date(2027, 2, 28), anchor_day=29) == date(2028, 2, 29)
    assert next_due(every_days(10), date(2026, 2, 20)) == date(2026, 3, 2)
    assert next_due(every_weeks(2), date(2026, 2, 20)) == date(2026, 3, 6)


def test_an_anchored_series_never_drifts() -> None:
    due, seen = LAST_OF_JANUARY, []
    for _ in range(4):
        due = next_due(monthly(Reading.SAME_DAY), due, anchor_day=31)
        seen.append(due)
    assert seen == [date(2026, 2, 28), date(2026, 3, 31), date(2026, 4, 30), date(2026, 5, 31)]


def test_done_on_another_day_that_day_is_the_anchor() -> None:
    assert next_due(monthly(Reading.SAME_DAY), date(2026, 3, 5), anchor_day=31) == date(2026, 4, 5)
    # Early in a short month is not on the anchored day either.
    assert next_due(monthly(Reading.SAME_DAY), date(2026, 2, 27), anchor_day=31) == date(2026, 3, 27)


def test_the_due_day_itself_is_in_time() -> None:
    due = date(2026, 3, 1)
    assert [overdue_days(due, due + timedelta(days=days)) for days in (-1, 0, 1, 31)] == [0, 0, 1, 31]
    assert [days_left(due, due + timedelta(days=days)) for days in (-1, 0, 1)] == [1, 0, 0]


@given(intervals, days_, anchors)
def test_due_is_after_the_last_time(interval: Interval, last: date, anchor_day: int | None) -> None:
    assert next_due(interval, last, anchor_day=anchor_day) > last


@given(days_, months_, anchors)
def test_a_day_is_never_past_the_end_of_its_month_nor_past_its_anchor(
    last: date, months: int, anchor_day: int | None
) -> None:
    due = same_day(last, months, anchor_day=anchor_day)
    assert due.day <= library.monthrange(due.year, due.month)[1]
    assert due.day <= (anchor_day or last.day)
    assert (due.year * 12 + due.month) - (last.year * 12 + last.month) == months
    if due.day < (anchor_day or last.day):
        assert (due + timedelta(days=1)).day == 1


# python-dateutil 4.0, relativedelta: adding months clips the day to the end of the month.
@given(days_, months_)
def test_the_same_day_is_the_one_of_another_library(last: date, months: int) -> None:
    assert same_day(last, months) == last + relativedelta(months=months)


@given(days_, months_)
def test_within_the_month_ends_on_its_last_day(last: date, months: int) -> None:
    due = within_the_month(last, months)
    assert (due + timedelta(days=1)).day == 1
    assert due == last + relativedelta(months=months, day=31)


@given(days_, months_, anchors)
def test_the_earliest_due_day_keeps_every_reading(last: date, months: int, anchor_day: int | None) -> None:
    earliest = earliest_due(months, last, anchor_day=anchor_day)
    dues = [next_due(Months(months, reading), last, anchor_day=anchor_day) for reading in Reading]
    assert earliest in dues
    assert all(overdue_days(due, earliest) == 0 for due in dues)
    assert same_day(last, months) <= within_the_month(last, months)
    assert thirty_days(last, months) == last + timedelta(days=30 * months)


@given(days_, st.integers(1, 24), st.integers(1, 40))
def test_going_step_by_step_on_the_anchor_is_the_series_from_the_anchor(anchor: date, months: int, number: int) -> None:
    interval = Months(months, Reading.SAME_DAY)
    due = anchor
    for _ in range(number):
        due = next_due(interval, due, anchor_day=anchor.day)
    assert due == occurrence(interval, anchor, number)


@given(intervals, days_, st.integers(1, 8))
def test_a_series_rises(interval: Interval, anchor: date, number: int) -> None:
    assert anchor < occurrence(interval, anchor, number) < occurrence(interval, anchor, number + 1)


@given(days_, anchors)
def test_no_month_on_the_same_day_is_longer_than_thirty_one_days(last: date, anchor_day: int | None) -> None:
    due = next_due(monthly(Reading.SAME_DAY), last, anchor_day=anchor_day)
    assert 28 <= (due - last).days <= 31


@given(days_, days_)
def test_overdue_and_left_are_never_negative_and_never_both(due: date, today: date) -> None:
    late, left = overdue_days(due, today), days_left(due, today)
    assert min(late, left) == 0
    assert today - due == timedelta(days=late - left)


@given(st.integers(), st.integers(), st.integers(), st.dates())
def test_whatever_is_put_in_is_a_later_day_or_refused_in_a_sentence(
    count: int, anchor_day: int, number: int, last: date
) -> None:
    makers = (
        lambda: next_due(every_days(count), last),
        lambda: next_due(every_weeks(count), last),
        lambda: next_due(Months(count, Reading.SAME_DAY), last, anchor_day=anchor_day),
        lambda: occurrence(every_days(1), last, number),
        lambda: thirty_days(last, count),
        lambda: within_the_month(last, count),
    )
    for make in makers:
        due = answer(make)
        assert due is None or due > last


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: every_days(0), "days"),
        (lambda: every_days(DAYS_MAX + 1), "days"),
        (lambda: Months(0, Reading.SAME_DAY), "months"),
        (lambda: Months(MONTHS_MAX + 1, Reading.SAME_DAY), "months"),
        (lambda: same_day(LAST_OF_JANUARY, 0), "months"),
        (lambda: same_day(LAST_OF_JANUARY, 1, anchor_day=32), "anchor"),
        (lambda: next_due(every_days(1), LAST_OF_JANUARY, anchor_day=0), "anchor"),
        (lambda: same_day(date(9999, 12, 1), 1), "9999"),
        (lambda: next_due(every_days(1), date.max), "9999"),
        (lambda: occurrence(every_days(1), LAST_OF_JANUARY, 0), "from 1"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()
