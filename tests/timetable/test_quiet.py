"""Quiet hours: once a night, over both changes of the clocks."""

from __future__ import annotations

import pytest

from reprocess.timetable.quiet import quiet_until
from tests.timetable.moments import at

NIGHT = ("22:00", "06:00")
LONDON, HALIFAX = "Europe/London", "America/Halifax"


@pytest.mark.parametrize(
    ("now", "until"),
    [
        ("2026-03-05T21:59:59+00:00", None),
        ("2026-03-05T22:00:00+00:00", "2026-03-06T06:00:00+00:00"),
        ("2026-03-06T00:00:00+00:00", "2026-03-06T06:00:00+00:00"),
        ("2026-03-06T05:59:59+00:00", "2026-03-06T06:00:00+00:00"),
        ("2026-03-06T06:00:00+00:00", None),
    ],
)
def test_a_night_is_quiet_from_its_first_to_its_last_minute(now: str, until: str | None) -> None:
    assert quiet_until(NIGHT, LONDON, at(now)) == (None if until is None else at(until))


def test_a_span_within_one_day_is_quiet_on_that_day_only() -> None:
    assert quiet_until(("12:00", "13:00"), LONDON, at("2026-03-05T12:30:00+00:00")) == at("2026-03-05T13:00:00+00:00")
    assert quiet_until(("12:00", "13:00"), LONDON, at("2026-03-05T13:30:00+00:00")) is None


# IANA time zone database, "Rule EU" (last Sunday of March and October, 01:00 UTC) and "Rule Canada" (second Sunday of
# March and first of November, 02:00 local): https://data.iana.org/time-zones/tzdb/
@pytest.mark.parametrize(
    ("zone", "begins", "ends"),
    [
        (LONDON, "2026-03-28T22:00:00+00:00", "2026-03-29T06:00:00+01:00"),  # seven hours: the clocks go forward
        (LONDON, "2026-10-24T22:00:00+01:00", "2026-10-25T06:00:00+00:00"),  # nine hours: they go back
        (HALIFAX, "2026-03-07T22:00:00-04:00", "2026-03-08T06:00:00-03:00"),
        (HALIFAX, "2026-10-31T22:00:00-03:00", "2026-11-01T06:00:00-04:00"),
    ],
)
def test_a_night_in_which_the_clocks_change_ends_by_the_new_time(zone: str, begins: str, ends: str) -> None:
    first, last = at(begins), at(ends)
    assert quiet_until(NIGHT, zone, first - 1) is None
    assert quiet_until(NIGHT, zone, first) == last
    assert quiet_until(NIGHT, zone, last - 1) == last
    assert quiet_until(NIGHT, zone, last) is None


def test_an_end_that_comes_twice_counts_once() -> None:
    """E12: 01:30 comes twice in London on 25 October 2026; what rang at the first is not silenced before the second."""
    assert quiet_until(("22:00", "01:30"), LONDON, at("2026-10-25T01:29:00+01:00")) == at("2026-10-25T01:30:00+01:00")
    assert quiet_until(("22:00", "01:30"), LONDON, at("2026-10-25T01:10:00+00:00")) is None


def test_an_end_that_the_clocks_skip_comes_so_much_later() -> None:
    """E11: 01:30 does not exist in London on 29 March 2026; half an hour after the last minute that does is 02:30."""
    assert quiet_until(("22:00", "01:30"), LONDON, at("2026-03-29T00:59:00+00:00")) == at("2026-03-29T02:30:00+01:00")
