"""A heat dose never claims more than the trace shows, and always says how it was reckoned."""

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.lethality import (
    Lethality,
    Phase,
    Sampling,
    Scale,
    a0,
    a0_as_evidence,
    f0,
    f0_as_evidence,
    lethal_seconds,
    longest_hold,
    seconds_needed,
)
from reprocess.quantities.trace import BadTrace, Trace, read_trace

A0_WITHOUT_FLOOR = Scale(reference_c=80.0, z_k=10.0, floor_c=None)


def steady(steps: list[tuple[float, float]]) -> Trace:
    """Returns a trace from (seconds since the sample before, degrees Celsius)."""
    at_s = 0.0
    samples = []
    for seconds, celsius in steps:
        at_s += seconds
        samples.append((at_s, celsius))
    return good(samples)


def good(samples: list[tuple[float, float]], gap_s_max: float = inf) -> Trace:
    trace = read_trace(samples, gap_s_max=gap_s_max)
    assert not isinstance(trace, BadTrace)
    return trace


def every_10_s(*temps_c: float) -> Trace:
    return good([(10.0 * number, celsius) for number, celsius in enumerate(temps_c)])


temperatures = st.floats(min_value=-40.0, max_value=200.0)
traces = st.lists(st.tuples(st.floats(min_value=0.001, max_value=3600.0), temperatures), min_size=2, max_size=30).map(
    steady
)
floors = st.none() | st.floats(min_value=20.0, max_value=90.0)


def test_the_result_states_everything_it_depends_on() -> None:
    trace = good([(0.0, 80.0), (10.0, 80.0), (100.0, 80.0)], gap_s_max=30.0)
    assert a0(trace, floor_c=65.0, sampling=Sampling.TRAPEZIUM) == Lethality(
        equivalent_s=10.0,
        scale=Scale(reference_c=80.0, z_k=10.0, floor_c=65.0),
        sampling=Sampling.TRAPEZIUM,
        gap_s_max=30.0,
        unobserved_s=90.0,
        phase=None,
    )


@pytest.mark.parametrize("sampling", Sampling)
def test_a_dose_just_met_at_a_constant_temperature_is_met_whatever_the_spacing(
    sampling: Sampling,
) -> None:
    for celsius, seconds in ((70.0, 6000), (80.0, 600), (90.0, 60)):
        for step in (1, 7, seconds):
            at_s = [*range(0, seconds, step), seconds]
            trace = good([(float(second), celsius) for second in at_s])
            dose = a0(trace, floor_c=65.0, sampling=sampling)
            assert dose.reaches(600.0), (celsius, step, dose)
            assert not dose.reaches(600.001)


def test_a_target_that_is_no_target_is_never_reached() -> None:
    dose = a0(every_10_s(90, 90), floor_c=None, sampling=Sampling.LEFT_RECTANGLES)
    assert not dose.reaches(0.0)
    assert not dose.reaches(-1.0)
    assert not dose.reaches(nan)
    assert not dose.reaches(inf)


def test_left_rectangles_hold_each_sample_until_the_next_and_the_last_adds_nothing() -> None:
    dose = a0(every_10_s(80, 90, 100), floor_c=None, sampling=Sampling.LEFT_RECTANGLES)
    assert dose.equivalent_s == pytest.approx(10 * 1 + 10 * 10)


def test_as_evidence_each_interval_counts_at_its_cooler_sample() -> None:
    dose = a0_as_evidence(every_10_s(80, 90, 70), floor_c=None)
    assert dose.sampling is Sampling.SMALLER_NEIGHBOUR
    assert dose.equivalent_s == pytest.approx(10 * 1 + 10 * 0.1)


@pytest.mark.parametrize("sampling", Sampling)
def test_the_floor_counts_itself_and_nothing_below_it_counts(sampling: Sampling) -> None:
    at_the_floor = a0(every_10_s(65, 65), floor_c=65.0, sampling=sampling)
    below = a0(every_10_s(64.999, 64.999), floor_c=65.0, sampling=sampling)
    assert at_the_floor.equivalent_s == pytest.approx(10 * 10**-1.5)
    assert below.equivalent_s == 0.0


def test_a_straight_line_counts_from_the_moment_it_crosses_the_floor() -> None:
    crossing = a0(every_10_s(60, 70), floor_c=65.0, sampling=Sampling.STRAIGHT_LINES)
    upper_half = a0(good([(0.0, 65.0), (5.0, 70.0)]), floor_c=65.0, sampling=Sampling.STRAIGHT_LINES)
    touching = a0(every_10_s(60, 65), floor_c=65.0, sampling=Sampling.STRAIGHT_LINES)
    assert crossing.equivalent_s == pytest.approx(upper_half.equivalent_s)
    assert touching.equivalent_s == 0.0


def test_temperatures_that_differ_by_next_to_nothing_are_as_good_as_level() -> None:
    scale = Scale(reference_c=0.0, z_k=100.0, floor_c=None)
    dose = lethal_seconds(every_10_s(0.0, 5e-324), scale, Sampling.STRAIGHT_LINES)
    assert dose.equivalent_s == pytest.approx(10.0)


@given(traces)
def test_straight_lines_lie_between_the_conservative_reading_and_the_trapezium(
    trace: Trace,
) -> None:
    smaller, lines, trapezium = (
        lethal_seconds(trace, A0_WITHOUT_FLOOR, sampling).equivalent_s
        for sampling in (
            Sampling.SMALLER_NEIGHBOUR,
            Sampling.STRAIGHT_LINES,
            Sampling.TRAPEZIUM,
        )
    )
    assert smaller <= lines * (1 + 1e-9)
    assert lines <= trapezium * (1 + 1e-9)


@given(traces, floors, st.sampled_from(Sampling))
def test_evidence_is_never_more_than_any_other_reading(trace: Trace, floor_c: float | None, sampling: Sampling) -> None:
    evidence = a0_as_evidence(trace, floor_c=floor_c).equivalent_s
    assert evidence <= a0(trace, floor_c=floor_c, sampling=sampling).equivalent_s * (1 + 1e-9)


@given(traces, floors)
def test_a_sample_in_between_on_the_line_leaves_the_straight_line_dose_alone(
    trace: Trace, floor_c: float | None
) -> None:
    before, after, *_ = trace.samples
    middle = ((before.at_s + after.at_s) / 2, (before.celsius + after.celsius) / 2)
    one = good([(before.at_s, before.celsius), (after.at_s, after.celsius)])
    two = good([(before.at_s, before.celsius), middle, (after.at_s, after.celsius)])
    expected = a0(one, floor_c=floor_c, sampling=Sampling.STRAIGHT_LINES).equivalent_s
    dose = a0(two, floor_c=floor_c, sampling=Sampling.STRAIGHT_LINES).equivalent_s
    assert dose == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_time_across_a_gap_counts_for_nothing_and_is_stated() -> None:
    samples = [(0.0, 90.0), (10.0, 90.0), (3610.0, 90.0), (3620.0, 90.0)]
    dose = a0_as_evidence(good(samples, gap_s_max=10.0), floor_c=65.0)
    assert dose.equivalent_s == pytest.approx(200.0)
    assert dose.unobserved_s == 3600.0
    hold = longest_hold(
        good(samples, gap_s_max=10.0),
        lowest_c=80.0,
        highest_c=95.0,
        sampling=Sampling.SMALLER_NEIGHBOUR,
    )
    assert hold.seconds == 10.0


def test_an_unknown_longest_gap_means_nothing_was_observed() -> None:
    assert a0_as_evidence(good([(0.0, 90.0), (60.0, 90.0)], nan), floor_c=None).equivalent_s == 0.0


@pytest.mark.parametrize(
    ("temps_c", "sampling", "expected_s"),
    [
        ((80, 80, 80), Sampling.SMALLER_NEIGHBOUR, 20.0),
        ((80, 80, 79, 80, 80, 80), Sampling.SMALLER_NEIGHBOUR, 20.0),
        ((80, 80, 79, 80, 80, 80), Sampling.LEFT_RECTANGLES, 20.0),
        ((80, 80, 79, 80), Sampling.LEFT_RECTANGLES, 20.0),
        ((80, 80, 79, 80), Sampling.SMALLER_NEIGHBOUR, 10.0),
        ((80, 93.001, 80), Sampling.SMALLER_NEIGHBOUR, 0.0),
        ((79, 79, 79), Sampling.LEFT_RECTANGLES, 0.0),
        ((80, 93, 80), Sampling.STRAIGHT_LINES, 20.0),
    ],
)
def test_a_hold_starts_anew_after_every_sample_outside_the_band(
    temps_c: tuple[float, ...], sampling: Sampling, expected_s: float
) -> None:
    hold = longest_hold(every_10_s(*temps_c), lowest_c=80.0, highest_c=93.0, sampling=sampling)
    assert hold.seconds == expected_s
    assert (hold.lowest_c, hold.highest_c, hold.sampling) == (80.0, 93.0, sampling)


def test_below_the_floor_no_time_is_enough() -> None:
    scale = Scale(reference_c=80.0, z_k=10.0, floor_c=65.0)
    assert seconds_needed(600.0, celsius=64.9, scale=scale) == inf
    assert seconds_needed(600.0, celsius=90.0, scale=scale) == 60.0


@pytest.mark.parametrize(
    ("reference_c", "z_k", "floor_c"),
    [
        (80.0, 0.0, None),
        (80.0, -10.0, None),
        (80.0, nan, None),
        (nan, 10.0, None),
        (inf, 10.0, None),
        (80.0, 10.0, nan),
        (80.0, 10.0, -inf),
    ],
)
def test_a_scale_that_no_standard_could_mean_is_not_made(reference_c: float, z_k: float, floor_c: float | None) -> None:
    with pytest.raises(ValueError, match="outside"):
        Scale(reference_c, z_k, floor_c)


def test_f0_is_told_in_minutes_at_121_1_degrees_with_its_floor_rule_and_phase() -> None:
    phase = Phase(0.0, 600.0)
    dose = f0(every_10_s(121.1, 121.1), floor_c=100.0, sampling=Sampling.TRAPEZIUM, phase=phase)
    assert dose == Lethality(10.0, Scale(121.1, 10.0, 100.0), Sampling.TRAPEZIUM, inf, 0.0, phase)
    assert dose.equivalent_min == pytest.approx(1 / 6)
    assert f0(every_10_s(131.1, 131.1), floor_c=None, sampling=dose.sampling).equivalent_s == pytest.approx(100.0)
    assert f0(every_10_s(99.9, 99.9), floor_c=100.0, sampling=dose.sampling).equivalent_s == 0.0


@given(traces, floors)
def test_f0_as_evidence_is_never_more_than_f0(trace: Trace, floor_c: float | None) -> None:
    evidence = f0_as_evidence(trace, floor_c=floor_c)
    assert evidence.sampling is Sampling.SMALLER_NEIGHBOUR
    for sampling in Sampling:
        assert evidence.equivalent_s <= f0(trace, floor_c=floor_c, sampling=sampling).equivalent_s * (1 + 1e-9)


def test_only_what_lies_wholly_in_the_phase_counts() -> None:
    trace = good([(0.0, 90.0), (10.0, 90.0), (20.0, 90.0), (100.0, 90.0), (110.0, 90.0)], gap_s_max=20.0)
    for phase, expected_s, unobserved_s in (
        (Phase(0.0, 20.0), 20.0, 0.0),
        (Phase(0.1, 20.0), 10.0, 0.0),
        (Phase(0.0, 19.9), 10.0, 0.0),
        (Phase(10.0, 110.0), 20.0, 80.0),
        (Phase(200.0, 300.0), 0.0, 0.0),
    ):
        dose = a0(trace, floor_c=65.0, sampling=Sampling.SMALLER_NEIGHBOUR, phase=phase)
        assert (dose.equivalent_s, dose.unobserved_s, dose.phase) == (expected_s * 10, unobserved_s, phase)
        hold = longest_hold(trace, lowest_c=80.0, highest_c=95.0, sampling=Sampling.SMALLER_NEIGHBOUR, phase=phase)
        assert (hold.seconds, hold.phase) == (min(expected_s, 20.0 if phase.began_s < 10.0 else 10.0), phase)


@given(traces, st.floats(0.0, 1e5), st.floats(0.001, 1e5))
def test_a_phase_never_adds_to_a_dose_and_two_halves_never_exceed_the_whole(
    trace: Trace, began_s: float, seconds: float
) -> None:
    middle_s = began_s + seconds
    before, after = (
        lethal_seconds(trace, A0_WITHOUT_FLOOR, Sampling.STRAIGHT_LINES, phase).equivalent_s
        for phase in (Phase(-1.0, middle_s), Phase(middle_s, 1e9))
    )
    whole = lethal_seconds(trace, A0_WITHOUT_FLOOR, Sampling.STRAIGHT_LINES).equivalent_s
    assert 0.0 <= before + after <= whole * (1 + 1e-9)


@pytest.mark.parametrize(("began_s", "ended_s"), [(1.0, 1.0), (2.0, 1.0), (nan, 1.0), (1.0, nan)])
def test_a_phase_that_does_not_end_after_it_began_is_refused(began_s: float, ended_s: float) -> None:
    with pytest.raises(ValueError, match="does not end after it began"):
        Phase(began_s, ended_s)
