"""A pack is never called better than it ran, and no odd number goes in."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.battery import (
    ALARM_LEAVES_MIN,
    Health,
    RetireLimits,
    RunTime,
    WearAdvice,
    WearFit,
    charge_cycles,
    equivalent_full_cycles,
    faded_percent,
    hours_by_one_ampere,
    hours_by_rating,
    left_percent,
    minutes_left,
    run_time,
    wear_advice,
)
from reprocess.quantities.exact import Exact

CUSTOMARY = RetireLimits.customary()
WORST_FIRST = [Health.RETIRE, Health.WATCH, Health.GOOD]

minutes = st.fractions(min_value=0, max_value=1000, max_denominator=1000)
some_minutes = st.fractions(min_value=Fraction(1, 1000), max_value=1000, max_denominator=1000)
percents = st.fractions(min_value=0, max_value=100, max_denominator=1000)
capacities_ah = st.fractions(min_value=1, max_value=100, max_denominator=1000)
currents_a = st.fractions(min_value=1, max_value=100, max_denominator=1000)
rated_hours = st.fractions(min_value=1, max_value=20, max_denominator=1000)
exponents = st.fractions(min_value=1, max_value=2, max_denominator=1000)


@pytest.mark.parametrize(
    ("measured_min", "health"),
    [
        (481, Health.GOOD),
        (432, Health.GOOD),
        (Decimal("431.999"), Health.WATCH),
        (384, Health.WATCH),
        (Decimal("383.999"), Health.RETIRE),
        (0, Health.RETIRE),
    ],
)
def test_a_pack_rated_for_eight_hours_is_judged_by_what_it_ran(measured_min: Exact, health: Health) -> None:
    assert run_time(measured_min, 480, 20).health(CUSTOMARY) is health


def test_a_manufacturer_may_retire_earlier_or_later() -> None:
    strict = RetireLimits(watch_percent=Fraction(95), retire_percent=Fraction(95))
    late = RetireLimits(watch_percent=Fraction(70), retire_percent=Fraction(60))
    run = run_time(432, 480, 20)
    assert run.share_percent == 90
    assert [run.health(limits) for limits in (strict, CUSTOMARY, late)] == [Health.RETIRE, Health.GOOD, Health.GOOD]


@pytest.mark.parametrize("celsius", [-40, Decimal("14.99"), Decimal("25.01"), 80])
def test_a_run_too_cold_or_too_warm_says_nothing(celsius: Exact) -> None:
    assert run_time(480, 480, celsius).health(CUSTOMARY) is Health.TEST_AGAIN
    assert run_time(100, 480, celsius).health(CUSTOMARY) is Health.TEST_AGAIN


def test_a_pack_may_be_healthy_and_still_too_short_for_the_assembly() -> None:
    run = run_time(Decimal("239.9"), 240, 20)
    assert run.health(CUSTOMARY) is Health.GOOD
    assert not run.runs_the_assembly
    assert run_time(240, 300, 20).runs_the_assembly


@given(minutes, minutes, some_minutes)
def test_a_longer_run_is_never_judged_worse(one_min: Fraction, other_min: Fraction, rated_min: Fraction) -> None:
    shorter, longer = (run_time(measured_min, rated_min, 20) for measured_min in sorted((one_min, other_min)))
    assert 0 <= shorter.share_percent <= longer.share_percent
    assert WORST_FIRST.index(shorter.health(CUSTOMARY)) <= WORST_FIRST.index(longer.health(CUSTOMARY))


@given(capacities_ah, capacities_ah)
def test_what_is_lost_and_what_is_left_are_the_whole(capacity_ah: Fraction, of_ah: Fraction) -> None:
    lost, left = faded_percent(capacity_ah, of_ah=of_ah), left_percent(capacity_ah, of_ah=of_ah)
    assert 0 <= lost < 100
    assert lost + left == 100 or (lost == 0 and left > 100)


@given(percents, percents, minutes)
def test_a_fuller_pack_runs_longer_and_never_longer_than_full(
    one_percent: Fraction, other_percent: Fraction, full_min: Fraction
) -> None:
    low, high = (minutes_left(percent, full_min=full_min) for percent in sorted((one_percent, other_percent)))
    assert 0 <= low <= high <= full_min
    assert minutes_left(100, full_min=full_min) == full_min
    assert minutes_left(0, full_min=full_min) == 0


def test_half_a_charge_of_a_worn_pack_is_half_of_what_it_runs() -> None:
    assert minutes_left(50, full_min=run_time(400, 480, 20).measured_min) == 200


# The Peukert law. Both forms are checked against logarithms, which the code does not use.


@given(capacities_ah, currents_a, exponents)
def test_the_law_on_the_capacity_at_one_ampere(capacity_ah: Fraction, current_a: Fraction, exponent: Fraction) -> None:
    hours = hours_by_one_ampere(capacity_ah, current_a, exponent)
    assert hours >= 0
    if hours > Fraction(1, 10):
        expected = log(float(capacity_ah)) - float(exponent) * log(float(current_a))
        assert log(float(hours)) == pytest.approx(expected, abs=2e-5)


@given(capacities_ah, rated_hours, currents_a, exponents)
def test_a_battery_drawn_evenly_over_its_rated_hours_lasts_them(
    capacity_ah: Fraction, hours: Fraction, current_a: Fraction, exponent: Fraction
) -> None:
    lasts = hours_by_rating(capacity_ah, hours, capacity_ah / hours, exponent)
    assert lasts <= hours <= lasts + Fraction(1, 10**6)
    harder = hours_by_rating(capacity_ah, hours, capacity_ah / hours + current_a, exponent)
    assert 0 <= harder < lasts


@given(capacities_ah, rated_hours, currents_a)
def test_with_an_exponent_of_one_the_capacity_is_always_the_same(
    capacity_ah: Fraction, hours: Fraction, current_a: Fraction
) -> None:
    plain = capacity_ah / current_a
    for lasts in (hours_by_rating(capacity_ah, hours, current_a, 1), hours_by_one_ampere(capacity_ah, current_a, 1)):
        assert float(lasts) == pytest.approx(float(plain), abs=2e-6)
        assert float(lasts) <= float(plain) + 1e-12


@given(capacities_ah, currents_a, exponents, exponents)
def test_a_harder_draw_costs_more_the_higher_the_exponent(
    capacity_ah: Fraction, current_a: Fraction, one: Fraction, other: Fraction
) -> None:
    low, high = sorted((one, other))
    assert hours_by_one_ampere(capacity_ah, current_a, low) >= hours_by_one_ampere(capacity_ah, current_a, high)


def test_a_law_stretched_too_far_is_refused() -> None:
    with pytest.raises(ValueError, match="not meant for more than 1000 h"):
        hours_by_one_ampere(100, Decimal("0.001"), 2)
    with pytest.raises(ValueError, match="not meant for more than 1000 h"):
        hours_by_rating(100, 20, Decimal("0.001"), 2)


# A planned wear.


@pytest.mark.parametrize(
    ("planned_min", "fit"),
    [
        (1, WearFit.BEFORE_ALARM),
        (90, WearFit.BEFORE_ALARM),
        (Decimal("90.01"), WearFit.INTO_ALARM),
        (120, WearFit.INTO_ALARM),
        (Decimal("120.01"), WearFit.RUNS_OUT),
    ],
)
def test_two_hours_left_are_ninety_minutes_to_the_alarm(planned_min: Exact, fit: WearFit) -> None:
    advice = wear_advice(planned_min, 120, alarm_leaves_min=ALARM_LEAVES_MIN)
    assert advice == WearAdvice(fit, to_alarm_min=Fraction(90), to_empty_min=Fraction(120))


def test_a_pack_that_is_alarming_already_is_for_no_wear() -> None:
    for left_min in (0, 29, 30):
        advice = wear_advice(1, left_min, alarm_leaves_min=ALARM_LEAVES_MIN)
        assert advice.fit is not WearFit.BEFORE_ALARM
        assert advice.to_alarm_min == 0


@given(some_minutes, minutes, minutes, minutes)
def test_more_left_never_fits_worse_and_no_time_is_negative(
    planned_min: Fraction, one_min: Fraction, other_min: Fraction, alarm_min: Fraction
) -> None:
    order = [WearFit.RUNS_OUT, WearFit.INTO_ALARM, WearFit.BEFORE_ALARM]
    less, more = (wear_advice(planned_min, left, alarm_leaves_min=alarm_min) for left in sorted((one_min, other_min)))
    assert order.index(less.fit) <= order.index(more.fit)
    for advice in (less, more):
        assert 0 <= advice.to_alarm_min <= advice.to_empty_min
        assert (advice.fit is WearFit.BEFORE_ALARM) == (planned_min <= advice.to_alarm_min)
        assert (advice.fit is WearFit.RUNS_OUT) == (planned_min > advice.to_empty_min)


# Cycles.


@given(st.lists(percents, max_size=30))
def test_cycles_are_counted_by_what_was_drawn_in_any_order(discharges_percent: list[Fraction]) -> None:
    cycles = equivalent_full_cycles(discharges_percent)
    assert cycles == equivalent_full_cycles(sorted(discharges_percent))
    assert 0 <= charge_cycles(discharges_percent) <= cycles < charge_cycles(discharges_percent) + 1
    assert cycles <= len(discharges_percent)


def test_nothing_drawn_is_no_cycle() -> None:
    assert equivalent_full_cycles([]) == 0
    assert charge_cycles([0, 0]) == 0


def test_putting_a_pack_on_the_charger_more_often_is_no_cycle_more() -> None:
    assert charge_cycles([100]) == charge_cycles([50, 50]) == charge_cycles([10] * 10) == 1
    assert charge_cycles([10] * 9) == 0


# No odd number goes in. A name, the function of one number, and its range.
OF_ONE_NUMBER: dict[str, tuple[Callable[[Exact], object], Exact, Exact]] = {
    "measured minutes": (lambda value: run_time(value, 240, 20), 0, 10_080),
    "temperature": (lambda value: run_time(240, 240, value), -40, 80),
    "charge": (lambda value: minutes_left(value, full_min=240), 0, 100),
    "full minutes": (lambda value: minutes_left(50, full_min=value), 0, 10_080),
    "minutes left": (lambda value: wear_advice(60, value, alarm_leaves_min=30), 0, 10_080),
    "minutes of alarm": (lambda value: wear_advice(60, 240, alarm_leaves_min=value), 0, 10_080),
    "discharge": (lambda value: equivalent_full_cycles([value]), 0, 100),
    "capacity": (lambda value: left_percent(value, of_ah=2), Decimal("0.001"), 1_000),
    "capacity it was": (lambda value: faded_percent(2, of_ah=value), Decimal("0.001"), 1_000),
    "current": (lambda value: hours_by_one_ampere(1, value, 1), Decimal("0.001"), 1_000),
    "current by rating": (lambda value: hours_by_rating(1, 20, value, 1), Decimal("0.001"), 1_000),
    "rated hours": (lambda value: hours_by_rating(2, value, 1, 2), Decimal("0.1"), 200),
    "exponent": (lambda value: hours_by_one_ampere(100, 5, value), 1, 2),
}


@pytest.mark.parametrize("name", OF_ONE_NUMBER)
@given(value=st.decimals(allow_nan=True, allow_infinity=True) | st.fractions())
def test_a_number_is_taken_in_its_range_and_refused_with_a_sentence_outside(name: str, value: Exact) -> None:
    function, lowest, highest = OF_ONE_NUMBER[name]
    finite = not isinstance(value, Decimal) or value.is_finite()
    if finite and lowest <= value <= highest:
        function(value)
        return
    with pytest.raises(ValueError, match=r"\.$"):
        function(value)


@pytest.mark.parametrize("name", OF_ONE_NUMBER)
def test_both_bounds_belong_to_the_range(name: str) -> None:
    function, lowest, highest = OF_ONE_NUMBER[name]
    for value in (lowest, highest):
        function(value)
    for outside in (Fraction(lowest) - Fraction(1, 10**9), Fraction(highest) + Fraction(1, 10**9)):
        with pytest.raises(ValueError, match=r"\.$"):
            function(outside)


@pytest.mark.parametrize(
    ("watch_percent", "retire_percent"),
    [(101, 80), (90, 0), (80, 90), (90, -1)],
    ids=["above", "zero", "turned", "less"],
)
def test_limits_that_make_no_sense_are_not_made(watch_percent: int, retire_percent: int) -> None:
    with pytest.raises(ValueError, match="watched, then retired"):
        RetireLimits(Fraction(watch_percent), Fraction(retire_percent))


def test_what_nobody_could_mean_is_refused() -> None:
    with pytest.raises(ValueError, match="more than no time"):
        run_time(240, 0, 20)
    with pytest.raises(ValueError, match="time in minutes"):
        RunTime(Fraction(-1), Fraction(240), Fraction(20))
    with pytest.raises(ValueError, match="degrees Celsius"):
        RunTime(Fraction(240), Fraction(240), Fraction(81))
    with pytest.raises(ValueError, match="longer than no time"):
        wear_advice(0, 240, alarm_leaves_min=30)
    with pytest.raises(ValueError, match="less than zero"):
        CUSTOMARY.judged(-1)
    with pytest.raises(ValueError, match="less than zero"):
        CUSTOMARY.judged(Decimal("nan"))
