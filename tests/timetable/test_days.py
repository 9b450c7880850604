"""Local dates: both nights on which the clocks change, midnights that do not exist, months of unequal length."""

from __future__ import annotations

from datetime import date

import pytest

from reprocess.timetable.days import at_hour, end_of_day, local_date
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
