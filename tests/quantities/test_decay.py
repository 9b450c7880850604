"""A fading bath never grows stronger, is never below zero, and is at the least when it says so."""

from collections.abc import Callable
from fractions import Fraction
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.decay import (
    DAYS_MAX,
    Q10_RANGE,
    RATE_PER_DAY_MAX,
    READINGS_MAX,
    Decay,
    factor_for_10_k,
    from_half_life,
    from_readings,
    from_share_left,
)
from reprocess.quantities.dilution import Strength, ppm
from reprocess.quantities.trace import PLAUSIBLE_C
from tests.quantities.refusing import answer

rates = st.floats(0.0, RATE_PER_DAY_MAX) | st.floats(0.0, 1.0)
temperatures = st.floats(*PLAUSIBLE_C)
decays = st.builds(Decay, rates, temperatures)
days_ = st.floats(0.0, DAYS_MAX)
strengths = st.fractions(min_value=0, max_value=1_000_000).map(Strength)
shares = st.fractions(min_value=Fraction(1, 1000), max_value=1)
anything = st.floats() | st.integers(-(10**6), 10**6).map(float)


def test_half_of_the_strength_is_left_after_a_half_life_and_a_quarter_after_two() -> None:
    decay = from_half_life(30.0, celsius=20.0)
    assert decay.share_left(30.0) == pytest.approx(0.5)
    assert decay.share_left(60.0) == pytest.approx(0.25)
    assert decay.days_until(ppm(1000), ppm(500)) == pytest.approx(30.0)
    assert decay.half_life_days == pytest.approx(30.0)


def test_what_never_fades_never_comes_down_and_nothing_comes_down_to_nothing() -> None:
    assert from_share_left(1, 6.0, celsius=20.0).half_life_days == inf
    assert Decay(0.0, 20.0).days_until(ppm(2), ppm(1)) == inf
    assert Decay(0.1, 20.0).days_until(ppm(2), ppm(0)) == inf
    assert Decay(0.0, 20.0).days_until(ppm(1), ppm(1)) == 0.0
    assert Decay(0.1, 20.0).days_until(ppm(0), ppm(1)) == 0.0


def test_a_least_met_exactly_still_counts_until_that_day() -> None:
    decay = from_share_left(Fraction(1, 2), 1.0, celsius=20.0)
    days = decay.days_until(ppm(200), ppm(50))
    assert decay.strength_after(ppm(200), days - 1e-6) > ppm(50) > decay.strength_after(ppm(200), days + 1e-6)


@given(decays, strengths, days_, days_)
def test_strength_only_falls_and_stays_in_its_range(decay: Decay, start: Strength, one: float, other: float) -> None:
    sooner, later = sorted((one, other))
    assert 0.0 <= decay.share_left(later) <= decay.share_left(sooner) <= 1.0
    assert ppm(0) <= decay.strength_after(start, later) <= decay.strength_after(start, sooner) <= start


@given(decays, strengths, strengths)
def test_at_the_day_it_names_the_strength_is_the_least_one(decay: Decay, start: Strength, least: Strength) -> None:
    days = decay.days_until(start, least)
    assert days >= 0.0
    if 0.0 < days <= DAYS_MAX:
        left = float(decay.strength_after(start, days).mg_per_l)
        assert left == pytest.approx(float(least.mg_per_l), rel=1e-6, abs=1e-12)


@given(decays, strengths, strengths)
def test_a_stronger_bath_never_ends_sooner(decay: Decay, one: Strength, other: Strength) -> None:
    weaker, stronger = sorted((one, other))
    assert decay.days_until(weaker, ppm(1)) <= decay.days_until(stronger, ppm(1)) + 1e-9


@given(shares, st.floats(0.01, 1000.0), temperatures)
def test_a_share_that_was_left_is_left_again(share: Fraction, days: float, celsius: float) -> None:
    assert from_share_left(share, days, celsius=celsius).share_left(days) == pytest.approx(float(share))


@given(st.floats(0.001, 100.0), st.lists(st.floats(0.01, 30.0), min_size=1, max_size=20))
def test_readings_on_one_curve_give_that_curve(rate: float, days: list[float]) -> None:
    decay = Decay(rate / 30, 20.0)
    readings = [(one, Fraction(decay.share_left(one))) for one in days]
    assert from_readings(readings, celsius=20.0).rate_per_day == pytest.approx(rate / 30)


def test_a_reading_above_the_start_counts_against_the_others() -> None:
    one = from_readings([(1.0, Fraction(9, 10)), (2.0, Fraction(11, 10)), (3.0, Fraction(7, 10))], celsius=20.0)
    assert 0 < one.rate_per_day < from_share_left(Fraction(7, 10), 3.0, celsius=20.0).rate_per_day


@given(st.floats(1e-6, 10.0), st.floats(-40.0, 60.0), st.floats(*Q10_RANGE), st.floats(5.0, 100.0))
def test_a_factor_found_is_the_factor_that_was_used(rate: float, celsius: float, q10: float, rise_k: float) -> None:
    decay = Decay(rate, celsius)
    warmer = answer(lambda: decay.at(celsius + rise_k, q10=q10))
    if warmer is None:
        assert rate * q10 ** (rise_k / 10) > RATE_PER_DAY_MAX * (1 - 1e-9)
        return
    assert warmer.rate_per_day >= rate * (1 - 1e-12)
    found = answer(lambda: factor_for_10_k(rate, celsius, warmer.rate_per_day, warmer.celsius))
    # At the very edge of the range the last digit may fall outside.
    at_the_edge = any(q10 == pytest.approx(edge) for edge in Q10_RANGE)
    assert at_the_edge or found == pytest.approx(q10)
    if found is not None and not at_the_edge:
        assert factor_for_10_k(warmer.rate_per_day, warmer.celsius, rate, celsius) == pytest.approx(q10)


@given(anything, anything, anything)
def test_whatever_is_put_in_is_answered_in_range_or_refused_in_a_sentence(
    one: float, other: float, celsius: float
) -> None:
    makers = (
        lambda: Decay(one, celsius).share_left(other),
        lambda: Decay(one, celsius).at(celsius, q10=other).rate_per_day,
        lambda: from_half_life(one, celsius=celsius).rate_per_day,
        lambda: from_readings([(one, Fraction(1, 2)), (other, 1)], celsius=celsius).rate_per_day,
        lambda: factor_for_10_k(one, celsius, other, 20.0),
    )
    for make in makers:
        given_back = answer(make)
        assert given_back is None or 0.0 <= given_back < inf


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Decay(-0.1, 20.0), "rate of decay"),
        (lambda: Decay(nan, 20.0), "rate of decay"),
        (lambda: Decay(0.1, 500.0), "temperature"),
        (lambda: Decay(0.1, 20.0).share_left(-1.0), "time"),
        (lambda: Decay(0.1, 20.0).share_left(inf), "time"),
        (lambda: Decay(0.1, 20.0).at(30.0, q10=0.5), "factor for 10 K"),
        (lambda: from_share_left(0, 1.0, celsius=20.0), "share"),
        (lambda: from_share_left(2, 1.0, celsius=20.0), "at most 1"),
        (lambda: from_share_left(Fraction(1, 2), 0.0, celsius=20.0), "no time at all"),
        (lambda: from_readings([], celsius=20.0), "after the start"),
        (lambda: from_readings([(0.0, 1)], celsius=20.0), "after the start"),
        (lambda: from_readings([(1.0, 1)] * (READINGS_MAX + 1), celsius=20.0), "readings"),
        (lambda: from_readings([(1.0, 2)], celsius=20.0), "rise"),
        (lambda: from_readings([(1.0, 0)], celsius=20.0), "share"),
        (lambda: factor_for_10_k(0.0, 5.0, 1.0, 15.0), "above zero"),
        (lambda: factor_for_10_k(1.0, 5.0, 1.0, 5.5), "1 K apart"),
        (lambda: factor_for_10_k(1.0, 5.0, 1e300, 15.0), "factor for 10 K"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()
