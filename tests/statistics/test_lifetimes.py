"""A fitted Weibull distribution is the most likely one, or none is given."""

from fractions import Fraction
from math import exp, inf, isfinite, log, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.lifetimes import SHAPES, Weibull, fit_weibull
from reprocess.statistics.survival import Observation
from tests.statistics.watching import ended, lives, unfinished


def log_likelihood(watched_ones: list[Observation], shape: float, scale: float) -> float:
    """Returns it from the density of what ended and the survival of what did not."""
    total = 0.0
    for one in watched_ones:
        time = float(one.lasted)
        total -= (time / scale) ** shape
        if one.ended:
            total += log(shape / scale * (time / scale) ** (shape - 1))
    return total


@given(lives)
def test_no_distribution_near_by_is_more_likely(watched_ones: list[Observation]) -> None:
    fitted = fit_weibull(watched_ones)
    if fitted is None or fitted.shape > 50:
        return
    best = log_likelihood(watched_ones, fitted.shape, fitted.scale)
    assert fitted.log_likelihood == pytest.approx(best, rel=1e-6, abs=1e-6)
    for shape_by, scale_by in [(1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99), (1.01, 1.01), (0.99, 0.99)]:
        other = log_likelihood(watched_ones, fitted.shape * shape_by, fitted.scale * scale_by)
        assert other <= best + 1e-6 * max(1.0, abs(best))


@given(lives)
def test_a_fit_is_finite_and_counts_everybody(watched_ones: list[Observation]) -> None:
    fitted = fit_weibull(watched_ones)
    if fitted is None:
        return
    assert SHAPES[0] <= fitted.shape <= SHAPES[1]
    assert fitted.scale > 0
    assert isfinite(fitted.scale)
    assert isfinite(fitted.log_likelihood)
    assert fitted.ended == sum(one.ended for one in watched_ones)
    assert fitted.ended + fitted.unfinished == len(watched_ones)


@given(lives, st.fractions("0.01", 100))
def test_another_unit_of_time_changes_the_scale_only(watched_ones: list[Observation], unit: Fraction) -> None:
    one = fit_weibull(watched_ones)
    other = fit_weibull([Observation(Fraction(each.lasted) * unit, each.ended) for each in watched_ones])
    if one is not None and other is not None:
        assert other.shape == pytest.approx(one.shape, rel=1e-6)
        assert other.scale == pytest.approx(one.scale * float(unit), rel=1e-6)


# With the shape at 1 it is the exponential, whose scale is the time watched by each end; these times have that shape.
def test_the_quantiles_of_a_distribution_give_it_back() -> None:
    count = 2000
    times = [Fraction(300 * (-log(1 - (place - 0.5) / count)) ** (1 / 1.5)) for place in range(1, count + 1)]
    fitted = fit_weibull([Observation(time, ended=True) for time in times])
    assert fitted is not None
    assert fitted.shape == pytest.approx(1.5, rel=2e-3)
    assert fitted.scale == pytest.approx(300, rel=2e-3)
    assert fitted.lasting(300) == pytest.approx(exp(-1), abs=1e-3)


@given(lives, st.lists(st.floats(0, 1e6), min_size=2, max_size=5))
def test_the_share_that_lasts_falls_with_time(watched_ones: list[Observation], times: list[float]) -> None:
    fitted = fit_weibull(watched_ones)
    if fitted is None:
        return
    lasting = [fitted.lasting(time) for time in sorted(times)]
    assert lasting == sorted(lasting, reverse=True)
    assert all(0 <= share <= 1 for share in lasting)
    assert fitted.lasting(0) == 1


@pytest.mark.parametrize(
    "watched_ones",
    [[], unfinished(5, 6), ended(5), ended(5, 5, 5), ended(7, 7) + unfinished(3, 7), ended(10**6, 10**6 + 1)],
)
def test_what_singles_out_no_distribution_has_none(watched_ones: list[Observation]) -> None:
    assert fit_weibull(watched_ones) is None


def test_times_over_hundreds_of_magnitudes_follow_no_such_law() -> None:
    tiny = [Observation(Fraction(1, 10**power), ended=True) for power in range(0, 300, 10)]
    assert fit_weibull(tiny) is None


def test_the_least_time_that_a_float_holds_is_still_a_time() -> None:
    least = Fraction(5e-324)
    assert fit_weibull([Observation(least, ended=True), Observation(10**18, ended=False)]) is None
    assert Weibull(shape=1.0, scale=1e18, log_likelihood=0.0, ended=1, unfinished=0).lasting(5e-324) == 1


def test_a_life_of_no_time_is_stopped() -> None:
    with pytest.raises(ValueError, match="lifetime must be more than zero"):
        fit_weibull(ended(0, 5))


@pytest.mark.parametrize("time", [-1.0, nan, -inf])
def test_a_time_that_cannot_be_is_stopped(time: float) -> None:
    with pytest.raises(ValueError, match="less than no time"):
        Weibull(shape=1.0, scale=1.0, log_likelihood=0.0, ended=1, unfinished=0).lasting(time)


@pytest.mark.parametrize("shape", [0.05, 1.0, 1000.0])
def test_in_the_end_nothing_lasts(shape: float) -> None:
    assert Weibull(shape=shape, scale=1.0, log_likelihood=0.0, ended=1, unfinished=0).lasting(inf) == 0
    assert Weibull(shape=shape, scale=1.0, log_likelihood=0.0, ended=1, unfinished=0).lasting(1e18) <= 0.01
