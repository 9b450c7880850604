"""Unfinished cycles count for as long as they were watched, and what was not reached is not a number."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.percentiles import Definition, percentile
from reprocess.statistics.survival import Curve, Observation, kaplan_meier, log_rank, watched
from tests.statistics.watching import ended, observations, times, unfinished

HALF = Fraction(1, 2)
shares = st.fractions("0.01", 1)


def curve_of(watched_ones: list[Observation]) -> Curve:
    curve = kaplan_meier(watched_ones)
    assert curve is not None
    return curve


def test_nothing_observed_has_no_curve() -> None:
    assert kaplan_meier([]) is None


@given(observations.filter(bool))
def test_a_curve_never_rises_and_stays_from_all_to_none(watched_ones: list[Observation]) -> None:
    curve = curve_of(watched_ones)
    shares_left = [Fraction(1), *(step.lasting for step in curve.steps)]
    assert all(after < before for before, after in pairwise(shares_left))
    assert shares_left[-1] >= 0
    assert [step.at for step in curve.steps] == sorted({Fraction(one.lasted) for one in watched_ones if one.ended})


@given(observations.filter(bool))
def test_everybody_is_counted_once(watched_ones: list[Observation]) -> None:
    curve = curve_of(watched_ones)
    assert curve.observed == len(watched_ones)
    assert list(curve.unfinished_at) == sorted(Fraction(one.lasted) for one in watched_ones if not one.ended)
    assert sum(step.ended for step in curve.steps) + len(curve.unfinished_at) == curve.observed
    for step in curve.steps:
        assert step.at_risk == sum(one.lasted >= step.at for one in watched_ones)


@given(observations.filter(bool), st.floats(0.5, 0.999))
def test_an_interval_holds_its_share(watched_ones: list[Observation], confidence: float) -> None:
    curve = kaplan_meier(watched_ones, confidence)
    assert curve is not None
    for step in curve.steps:
        if step.interval is None:
            assert step.lasting == 0
            continue
        lower, upper = step.interval
        assert 0 <= lower <= float(step.lasting) <= upper <= 1


@given(st.lists(times, min_size=1, max_size=30), shares)
def test_where_all_have_ended_it_is_the_plain_share_and_the_nearest_rank(
    lasted: list[int | Fraction], share: Fraction
) -> None:
    curve = curve_of([Observation(one, ended=True) for one in lasted])
    for step in curve.steps:
        assert step.lasting == Fraction(sum(one > step.at for one in lasted), len(lasted))
    assert curve.ended_by(share) == percentile(lasted, share, Definition.NEAREST_RANK)


# Efron's redistribution to the right is another way to the same estimate: each unfinished one hands its weight in equal
# parts to those watched longer. Efron, Proceedings of the Fifth Berkeley Symposium 1967;4:831-853 (from memory).
@given(observations.filter(bool))
def test_it_is_what_redistribution_to_the_right_gives(watched_ones: list[Observation]) -> None:
    ordered = sorted(watched_ones, key=lambda one: (one.lasted, not one.ended))
    weights = [Fraction(1, len(ordered))] * len(ordered)
    for place, one in enumerate(ordered):
        later = len(ordered) - place - 1
        if not one.ended and later:
            handed = weights[place] / later
            weights[place + 1 :] = [weight + handed for weight in weights[place + 1 :]]
            weights[place] = Fraction(0)
    for step in curve_of(watched_ones).steps:
        left = sum((w for w, one in zip(weights, ordered, strict=True) if one.lasted > step.at), start=Fraction(0))
        unended = [w for w, one in zip(weights, ordered, strict=True) if not one.ended and one.lasted == step.at]
        assert step.lasting == left + sum(unended, start=Fraction(0))


@given(observations.filter(bool), shares)
def test_leaving_the_unfinished_out_never_makes_it_longer(watched_ones: list[Observation], share: Fraction) -> None:
    finished = [one for one in watched_ones if one.ended]
    whole = curve_of(watched_ones).ended_by(share)
    if finished and whole is not None:
        only_finished = curve_of(finished).ended_by(share)
        assert only_finished is not None
        assert only_finished <= whole


def test_what_is_not_reached_is_no_number() -> None:
    curve = curve_of(ended(1, 2) + unfinished(5, 5, 5))
    assert curve.ended_by(Fraction(2, 5)) == 2
    assert curve.ended_by(HALF) is None
    assert curve.ended_by(1) is None


def test_a_half_that_is_reached_exactly_is_reached() -> None:
    # 5/6 * 4/5 * 3/4 is a half; in floats it is not.
    assert curve_of(ended(1, 2, 3, 4, 5, 6)).ended_by(HALF) == 3


def test_a_share_is_asked_for_within_what_was_watched() -> None:
    curve = curve_of(ended(1, 2) + unfinished(5))
    assert [curve.lasting(time) for time in (0, 1, Fraction("1.9"), 2, 5)] == [
        1,
        Fraction(2, 3),
        Fraction(2, 3),
        Fraction(1, 3),
        Fraction(1, 3),
    ]
    assert curve.lasting(6) is None
    assert curve_of(ended(1, 2)).lasting(6) == 0


# Standard errors by Greenwood for the arm with 6-mercaptopurine of Freireich 1963, as printed by PROC LIFETEST: 0.0764,
# 0.0869 and 0.0963 at weeks 6, 7 and 10. On the log-log scale the half width of the interval is 1.96 of them, divided
# by share and logarithm; 0.6197 to 0.9516 at week 6 is from memory.
def test_the_interval_rests_on_greenwoods_error() -> None:
    weeks = ended(6, 6, 6, 7, 10, 13, 16, 22, 23) + unfinished(6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
    steps = curve_of(weeks).steps
    assert steps[0].interval == pytest.approx((0.6197, 0.9516), abs=5e-5)
    for step, error in zip(steps, (0.0764, 0.0869, 0.0963), strict=False):
        assert step.interval is not None
        narrow = kaplan_meier(weeks, confidence=1e-6)
        assert narrow is not None
        lower, upper = next(each.interval for each in narrow.steps if each.at == step.at and each.interval)
        # A tiny interval is as wide as so few standard errors: 1e-6 of a normal lies within 1.2533e-6 deviations.
        assert (upper - lower) / 2 / 1.2533141e-6 == pytest.approx(error, abs=5e-5)


@pytest.mark.parametrize(
    ("began", "ended_at", "now", "expected"),
    [
        (100, 160, 200, Observation(60, ended=True)),
        (100, 160, 160, Observation(60, ended=True)),
        (100, 160, 159, Observation(59, ended=False)),
        (100, None, 200, Observation(100, ended=False)),
        (100, None, 100, Observation(0, ended=False)),
        (100, 100, 100, Observation(0, ended=True)),
    ],
)
def test_what_ends_later_was_unfinished_then(began: int, ended_at: int | None, now: int, expected: Observation) -> None:
    assert watched(began, ended_at, now) == expected


@pytest.mark.parametrize(
    ("began", "ended_at", "now", "words"), [(100, 99, 200, "before it began"), (100, None, 99, "not begun")]
)
def test_a_cycle_that_runs_backwards_is_stopped(began: int, ended_at: int | None, now: int, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        watched(began, ended_at, now)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Observation(-1, ended=True), "less than no time"),
        (lambda: Observation(Decimal("NaN"), ended=True), "finite"),
        (lambda: curve_of(ended(1)).ended_by(0), "above 0 and at most 1"),
        (lambda: curve_of(ended(1)).ended_by(Decimal("1.1")), "above 0 and at most 1"),
        (lambda: curve_of(ended(1)).lasting(-1), "less than no time"),
        (lambda: kaplan_meier([], confidence=95), "between 0 and 1"),
    ],
)
def test_what_cannot_be_is_stopped(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


@given(observations, observations)
def test_either_group_may_come_first(first: list[Observation], second: list[Observation]) -> None:
    one, other = log_rank(first, second), log_rank(second, first)
    assert (one is None) is (other is None)
    if one is None or other is None:
        return
    assert one.chi_squared == pytest.approx(other.chi_squared, rel=1e-6, abs=1e-9)
    assert one.p_value == pytest.approx(other.p_value, rel=1e-6, abs=1e-9)
    assert 0 <= one.p_value <= 1
    assert one.chi_squared >= 0
    assert one.ended + other.ended == pytest.approx(one.expected + other.expected)
    assert one.ended == sum(each.ended for each in first)


@given(observations)
def test_a_group_is_like_itself(group: list[Observation]) -> None:
    same = log_rank(group, group)
    if same is not None:
        assert same.chi_squared == pytest.approx(0, abs=1e-9)
        assert same.p_value == pytest.approx(1, abs=1e-4)


# With one end at each time and nobody unfinished the variance is a sum of binomial ones; two groups of two by hand:
# ends of the first at 1 and 2, of the second at 3 and 4: expected 1/2 + 1/3, variance 1/4 + 2/9.
def test_a_small_case_by_hand() -> None:
    compared = log_rank(ended(1, 2), ended(3, 4))
    assert compared is not None
    assert compared.ended == 2
    assert compared.expected == pytest.approx(5 / 6)
    assert compared.chi_squared == pytest.approx((2 - 5 / 6) ** 2 / (1 / 4 + 2 / 9))


# Chi-squared of one degree of freedom exceeds 3.841 with a chance of 0.05 (any table); the root is 1.95996.
def test_ties_use_the_hypergeometric_variance() -> None:
    # At one time 3 of 4 and 1 of 4 end: expected 2, variance 4 * 4 * 4 * 4 / (64 * 7) = 4/7.
    compared = log_rank(ended(1, 1, 1, 2), ended(1) + unfinished(1, 1, 1))
    assert compared is not None
    assert compared.expected == pytest.approx(2 + 1)
    assert compared.chi_squared == pytest.approx((4 - 3) ** 2 / (4 / 7))
    assert sqrt(compared.chi_squared) == pytest.approx(1.3229, abs=5e-5)
    assert compared.p_value == pytest.approx(0.1859, abs=5e-5)


@pytest.mark.parametrize(
    ("first", "second"),
    [([], []), (ended(1), []), ([], ended(1)), (unfinished(1), unfinished(2)), (unfinished(1), ended(2))],
)
def test_groups_that_were_never_at_risk_together_are_not_compared(
    first: list[Observation], second: list[Observation]
) -> None:
    assert log_rank(first, second) is None
