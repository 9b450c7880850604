"""D and z values give times and reductions that agree with the dose, in their ranges or not at all."""

from math import inf, isfinite, log, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.equivalence import (
    D_S_RANGE,
    LOG10_MAX,
    SECONDS_MAX,
    Resistance,
    equivalent_s,
    rate_per_s,
    z_k_between,
)
from reprocess.quantities.lethality import Sampling, Scale, lethal_seconds
from reprocess.quantities.trace import PLAUSIBLE_C, BadTrace, read_trace
from tests.quantities.refusing import answer

temperatures = st.floats(*PLAUSIBLE_C)
d_values = st.floats(*D_S_RANGE)
z_values = st.floats(4.0, 60.0)
times = st.floats(0.0, SECONDS_MAX)
powers = st.floats(0.01, LOG10_MAX)
scales = st.builds(Scale, temperatures, z_values, st.none() | temperatures)
populations = st.builds(Resistance, d_values, scales)
anything = st.floats() | st.integers(-(10**6), 10**6).map(float)


def test_a_tenfold_fall_takes_a_d_value_and_ten_times_less_a_z_value_higher() -> None:
    spores = Resistance(120.0, Scale(121.1, 10.0, None))
    assert spores.log10_reduction(120.0, celsius=121.1) == 1.0
    assert spores.seconds_for(6.0, celsius=131.1) == pytest.approx(72.0)
    assert spores.d_s_at(111.1) == pytest.approx(1200.0)
    assert z_k_between(1200.0, 111.1, 120.0, 121.1) == pytest.approx(10.0)
    assert rate_per_s(120.0) * 120.0 == pytest.approx(log(10))


def test_below_the_floor_nothing_dies() -> None:
    spores = Resistance(60.0, Scale(80.0, 10.0, 65.0))
    assert spores.d_s_at(64.9) == inf
    assert spores.log10_reduction(SECONDS_MAX, celsius=64.9) == 0.0
    assert spores.seconds_for(1.0, celsius=64.9) == inf
    assert equivalent_s(600.0, celsius=64.9, at_c=90.0, scale=spores.scale) == 0.0
    assert equivalent_s(600.0, celsius=90.0, at_c=64.9, scale=spores.scale) == inf
    assert equivalent_s(600.0, celsius=80.0, at_c=90.0, scale=spores.scale) == pytest.approx(60.0)


@given(populations, times, temperatures)
def test_a_reduction_is_finite_and_never_negative(population: Resistance, seconds: float, celsius: float) -> None:
    reduction = population.log10_reduction(seconds, celsius=celsius)
    assert isfinite(reduction)
    assert reduction >= 0.0


@given(populations, powers, temperatures)
def test_the_time_for_a_reduction_gives_that_reduction(population: Resistance, wanted: float, celsius: float) -> None:
    seconds = population.seconds_for(wanted, celsius=celsius)
    assert seconds > 0.0
    if seconds <= SECONDS_MAX:
        assert population.log10_reduction(seconds, celsius=celsius) == pytest.approx(wanted)


@given(populations, st.floats(1.0, 1e5), temperatures)
def test_a_hold_reduces_as_much_as_its_dose(population: Resistance, seconds: float, celsius: float) -> None:
    trace = read_trace([(0.0, celsius), (seconds, celsius)], gap_s_max=inf)
    assert not isinstance(trace, BadTrace)
    dose = lethal_seconds(trace, population.scale, Sampling.SMALLER_NEIGHBOUR)
    held = population.log10_reduction(seconds, celsius=celsius)
    assert population.log10_reduction_of(dose) == pytest.approx(held, rel=1e-9)


@given(scales, times, temperatures, temperatures)
def test_an_equivalent_time_is_never_negative_and_comes_back(
    scale: Scale, seconds: float, celsius: float, at_c: float
) -> None:
    there = equivalent_s(seconds, celsius=celsius, at_c=at_c, scale=scale)
    assert there >= 0.0
    if 0.0 < there <= SECONDS_MAX:
        assert equivalent_s(there, celsius=at_c, at_c=celsius, scale=scale) == pytest.approx(seconds)


@given(scales, times, temperatures)
def test_more_heat_is_never_worth_less(scale: Scale, seconds: float, celsius: float) -> None:
    at_c = PLAUSIBLE_C[1]
    if celsius + 1 <= at_c:
        cooler = equivalent_s(seconds, celsius=celsius, at_c=at_c, scale=scale)
        assert cooler <= equivalent_s(seconds, celsius=celsius + 1, at_c=at_c, scale=scale)


@given(d_values, temperatures, d_values, temperatures)
def test_two_d_values_give_a_z_value_that_explains_them_or_none(
    d_s: float, celsius: float, other_s: float, other_c: float
) -> None:
    z_k = answer(lambda: z_k_between(d_s, celsius, other_s, other_c))
    if z_k is None:
        return
    assert Resistance(d_s, Scale(celsius, z_k, None)).d_s_at(other_c) == pytest.approx(other_s, rel=1e-6)


@given(anything, anything, anything)
def test_whatever_is_put_in_is_answered_in_range_or_refused_in_a_sentence(
    d_s: float, seconds: float, celsius: float
) -> None:
    scale = Scale(80.0, 10.0, 65.0)
    makers = (
        lambda: Resistance(d_s, scale).log10_reduction(seconds, celsius=celsius),
        lambda: Resistance(d_s, scale).seconds_for(seconds, celsius=celsius),
        lambda: equivalent_s(seconds, celsius=celsius, at_c=90.0, scale=scale),
        lambda: rate_per_s(d_s),
    )
    for make in makers:
        given_back = answer(make)
        assert given_back is None or given_back >= 0.0


@pytest.mark.parametrize("d_s", [0.0, -1.0, inf, nan])
def test_a_d_value_that_no_table_could_mean_is_refused(d_s: float) -> None:
    with pytest.raises(ValueError, match="D value"):
        Resistance(d_s, Scale(80.0, 10.0, None))
    with pytest.raises(ValueError, match="D value"):
        rate_per_s(d_s)


def test_a_dose_on_another_scale_says_nothing() -> None:
    trace = read_trace([(0.0, 90.0), (60.0, 90.0)], gap_s_max=inf)
    assert not isinstance(trace, BadTrace)
    dose = lethal_seconds(trace, Scale(80.0, 10.0, 65.0), Sampling.TRAPEZIUM)
    with pytest.raises(ValueError, match="says nothing"):
        Resistance(60.0, Scale(80.0, 10.0, None)).log10_reduction_of(dose)
