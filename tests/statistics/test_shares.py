"""A share comes with its interval, and a share of nothing is no share."""

from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.sample import normal_quantile
from reprocess.statistics.shares import wilson

counts = st.integers(min_value=1, max_value=10**7).flatmap(
    lambda of: st.tuples(st.integers(min_value=0, max_value=of), st.just(of))
)


# Newcombe, "Two-sided Confidence Intervals for the Single Proportion", Statistics in Medicine 1998;17:857-872, Table I,
# method 3 (score, no continuity correction), 95 %; read in a copy.
@pytest.mark.parametrize(
    ("met", "of", "lower", "upper"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_intervals_in_print(met: int, of: int, lower: float, upper: float) -> None:
    share = wilson(met, of)
    assert share is not None
    assert (share.lower, share.upper) == pytest.approx((lower, upper), abs=5e-5)


def test_a_share_of_nothing_is_neither_none_nor_all() -> None:
    assert wilson(0, 0) is None


@given(counts, st.floats(min_value=0.5, max_value=0.999))
def test_an_interval_holds_its_share_and_stays_from_none_to_all(count: tuple[int, int], confidence: float) -> None:
    share = wilson(*count, confidence=confidence)
    assert share is not None
    assert share.estimate == Fraction(*count)
    assert 0 <= share.lower <= float(share.estimate) <= share.upper <= 1
    assert (share.met, share.of, share.confidence) == (*count, confidence)


@given(counts)
def test_none_and_all_keep_one_end_and_open_the_other(count: tuple[int, int]) -> None:
    none, all_of_them = wilson(0, count[1]), wilson(count[1], count[1])
    assert none is not None
    assert all_of_them is not None
    assert none.lower == pytest.approx(0, abs=1e-12)
    assert none.upper > 0
    assert all_of_them.upper == 1
    assert all_of_them.lower < 1


# The definition: each bound p lies as many standard errors, computed at p itself, from what was counted.
@given(counts)
def test_a_bound_lies_as_far_away_as_the_confidence_says(count: tuple[int, int]) -> None:
    met, of = count
    share = wilson(met, of)
    assert share is not None
    for bound in (share.lower, share.upper):
        deviation = normal_quantile(0.95) * sqrt(bound * (1 - bound) / of)
        assert abs(met / of - bound) == pytest.approx(deviation, rel=1e-5, abs=1e-9)


@given(counts)
def test_what_was_not_met_is_the_mirror(count: tuple[int, int]) -> None:
    met, of = count
    one, other = wilson(met, of), wilson(of - met, of)
    assert one is not None
    assert other is not None
    assert one.lower == pytest.approx(1 - other.upper, abs=1e-12)


@pytest.mark.parametrize(("met", "of"), [(-1, 5), (6, 5), (0, -1)])
def test_counts_that_cannot_be_are_stopped(met: int, of: int) -> None:
    with pytest.raises(ValueError, match="at least none and at most all"):
        wilson(met, of)


def test_a_wrong_confidence_is_stopped_even_for_nothing() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        wilson(0, 0, confidence=95)
