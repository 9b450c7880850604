"""How long names are kept: by the law on exposures, by the profile in force, and by what is still out (D12, E40)."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reprocess.rules.keeping import Link, Period
from reprocess.rules.retention import CYCLES, EXPOSURES, exposure_kept_until, kept_by_law, past, years_after
from reprocess.terms import as_datetime, instant

FIVE = Period(5, "x")


def at(year: int, month: int = 1, day: int = 1) -> int:
    return instant(datetime(year, month, day, tzinfo=UTC))


@pytest.mark.parametrize(
    ("since", "years", "until"),
    [
        ((2026, 3, 5), 30, (2056, 3, 5)),
        ((2024, 2, 29), 5, (2029, 3, 1)),  # never a day too early
        ((2024, 2, 29), 4, (2028, 2, 29)),
    ],
)
def test_years_are_counted_on_the_calendar(
    since: tuple[int, int, int], years: int, until: tuple[int, int, int]
) -> None:
    assert as_datetime(years_after(at(*since), years)).date().timetuple()[:3] == until


def test_an_exposure_is_kept_for_thirty_years() -> None:
    """D12, E40: 29 CFR 1910.1020(d)(1)(ii), "preserved and maintained for at least thirty (30) years" (from memory)."""
    assert EXPOSURES.years == 30
    link = Link("W", named=True, left_us=at(2027), exposed_us=at(2026))
    assert exposure_kept_until(link) == at(2056)
    assert [one.key for one in kept_by_law(link, at(2056) - 1)] == ["kept-by-law"]
    assert kept_by_law(link, at(2056)) == []
    assert not past(link, FIVE, at(2056) - 1)
    assert past(link, FIVE, at(2056))


def test_a_name_is_past_its_period_only_once_its_wearer_left() -> None:
    """D12: five years after the last use, or after leaving, whichever comes later."""
    assert CYCLES.years == 5
    assert not past(Link("W", named=True, used_us=at(2000)), FIVE, at(2090))
    left = Link("W", named=True, left_us=at(2026), used_us=at(2027))
    assert (past(left, FIVE, at(2032) - 1), past(left, FIVE, at(2032))) == (False, True)
    never = Link("W", named=True, left_us=at(2026))
    assert (past(never, FIVE, at(2031) - 1), past(never, FIVE, at(2031))) == (False, True)
    assert not past(Link("W", named=False, left_us=at(2026)), FIVE, at(2090))


def test_what_is_out_or_undecided_keeps_a_name_whatever_its_age() -> None:
    """E40: every reason at once."""
    link = Link("W", named=True, left_us=at(2000), out=True, exposed_us=at(2026), undecided="C-1")
    assert [one.key for one in kept_by_law(link, at(2030))] == ["still-out", "case-not-decided", "kept-by-law"]
    assert not past(link, FIVE, at(2090))
