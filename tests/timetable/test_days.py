"""Local dates: both nights on which the clocks change, midnights that do not exist, months of unequal length."""

from __future__ import annotations

from datetime import date

import pytest

from reprocess.timetable.days import at_hour, end_of_day, local_date, months_on
from tests.timetable.moments import at


@pytest.mark.parametrize(
    ("zone", "day", "ends"),
    [
        ("Europe/London", date(2026, 3, 28), "2026-03-29T00:00+00:00"),
        ("Europe/London", date(2026, 3, 29), "2026-03-30T00:00+01:00"),
        ("Europe/London", date(2026, 10, 25), "2026-10-26T00:00+00:00"),
        ("America/Halifax", date(2026, 3, 8), "2026-03-09T00:00-03:00"),
        ("America/Halifax", date(2026, 11, 1), "2026-11-02T00:00-04:00"),
    ],
)
def test_a_day_ends_at_local_midnight_also_when_the_clocks_change(zone: str, day: date, ends: str) -> None:
    assert end_of_day(zone, day) == at(ends)


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("Europe/London", date(2026, 3, 29), 23),
        ("Europe/London", date(2026, 10, 25), 25),
        ("America/Halifax", date(2026, 3, 8), 23),
        ("America/Halifax", date(2026, 11, 1), 25),
        ("America/Halifax", date(2026, 3, 29), 24),
    ],
)
def test_a_day_has_the_hours_its_site_gives_it(zone: str, day: date, hours: int) -> None:
    assert end_of_day(zone, day) - at_hour(zone, day, 0) == hours * 3_600_000_000


def test_a_midnight_that_the_clocks_skip_is_the_first_instant_of_its_day() -> None:
    # Cairo goes from 00:00 to 01:00 on the last Friday of April.
    begins = at_hour("Africa/Cairo", date(2026, 4, 24), 0)
    assert begins == at("2026-04-24T01:00+03:00")
    assert local_date("Africa/Cairo", begins) == date(2026, 4, 24)
    assert local_date("Africa/Cairo", begins - 1) == date(2026, 4, 23)


def test_of_a_midnight_that_comes_twice_the_first_one_counts() -> None:
    # Havana goes from 01:00 back to 00:00 on the first Sunday of November.
    assert at_hour("America/Havana", date(2026, 11, 1), 0) == at("2026-11-01T00:00-04:00")


@pytest.mark.parametrize(
    ("last", "anchor", "following"),
    [
        (date(2026, 1, 31), None, date(2026, 2, 28)),
        (date(2026, 2, 28), 31, date(2026, 3, 31)),
        (date(2026, 3, 31), 31, date(2026, 4, 30)),
        (date(2026, 4, 30), 31, date(2026, 5, 31)),
        (date(2028, 1, 31), None, date(2028, 2, 29)),
        (date(2028, 2, 29), 31, date(2028, 3, 31)),
        (date(2026, 12, 15), None, date(2027, 1, 15)),
        # Done on another day than the anchored one: that day counts from now on, so that no month grows longer.
        (date(2026, 3, 5), 31, date(2026, 4, 5)),
        (date(2026, 2, 20), 31, date(2026, 3, 20)),
    ],
)
def test_a_month_on_keeps_the_anchored_day(last: date, anchor: int | None, following: date) -> None:
    assert months_on(last, 1, anchor=anchor) == following


@pytest.mark.parametrize("anchor", [None, 28, 29, 30, 31])
def test_no_month_is_longer_than_thirty_one_days(anchor: int | None) -> None:
    for ordinal in range(date(2026, 1, 1).toordinal(), date(2028, 12, 31).toordinal()):
        last = date.fromordinal(ordinal)
        assert 28 <= (months_on(last, 1, anchor=anchor) - last).days <= 31


# US Department of Energy, precedent RECORD ID D99-03-008, on the word "annual" in 29 CFR 1910.134 (V01-21): trained on
# 10 February 2024, due to the day on 2025-02-10, or by the end of the anniversary month on 2025-02-28.
# https://webarchive.library.unt.edu/eot2008/20090116211506/http://www.hss.energy.gov/healthsafety/wshp/il/pres/docs/D9903008.htm
def test_a_year_ends_on_the_day_or_with_its_month_as_the_reading_says() -> None:
    trained = date(2024, 2, 10)
    assert months_on(trained, 12) == date(2025, 2, 10)
    assert months_on(trained, 12, reading="end-of-month") == date(2025, 2, 28)
