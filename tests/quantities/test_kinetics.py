"""Models of kill: integrals of their own rate, in range, and never a time below zero."""

from collections.abc import Callable
from math import exp, fsum, inf, isfinite, log, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.kinetics import (
    K_RANGE,
    LOG10_MAX,
    LOSS_PER_MIN_MAX,
    M_RANGE,
    MG_PER_L_RANGE,
    MINUTES_MAX,
    N_RANGE,
    Kinetics,
    from_one_kill,
    line_through,
    lower_gamma,
)
from tests.quantities.refusing import answer

models = st.builds(Kinetics, st.floats(*K_RANGE), st.floats(*N_RANGE), st.floats(*M_RANGE))
strengths = st.floats(*MG_PER_L_RANGE)
minutes_ = st.floats(0.0, MINUTES_MAX)
losses = st.floats(0.0, LOSS_PER_MIN_MAX)
anything = st.floats() | st.integers(-(10**6), 10**6).map(float)


def by_small_steps(model: Kinetics, mg_per_l: float, minutes: float, loss_per_min: float) -> float:
    """Returns ln(N / N0) as a sum over many short times: m k C**n t**(m - 1) at the middle of each."""
    steps = 20_000
    width = minutes / steps
    middles = ((step + 0.5) * width for step in range(steps))
    return -fsum(
        model.m * model.k * (mg_per_l * exp(-loss_per_min * at)) ** model.n * at ** (model.m - 1) * width
        for at in middles
    )


@pytest.mark.parametrize(
    ("n", "m", "loss_per_min"), [(1.0, 1.0, 0.0), (1.0, 1.0, 0.3), (1.4, 2.4, 0.5), (0.8, 1.5, 2.0), (2.0, 1.2, 1e-9)]
)
def test_the_closed_form_is_the_integral_of_the_rate(n: float, m: float, loss_per_min: float) -> None:
    model = Kinetics(0.7, n, m)
    ours = model.ln_survival(3.0, 4.0, loss_per_min=loss_per_min)
    assert ours == pytest.approx(by_small_steps(model, 3.0, 4.0, loss_per_min), rel=1e-4)


@pytest.mark.parametrize(
    ("m", "x", "expected"),
    [
        # gamma(1, x) = 1 - exp(-x) and gamma(2, x) = 1 - (1 + x) exp(-x), by integration by parts.
        (1.0, 0.5, 1 - exp(-0.5)),
        (1.0, 30.0, 1 - exp(-30)),
        (2.0, 3.0, 1 - 4 * exp(-3)),
        (2.0, 199.0, 1.0),
        (5.0, 250.0, 24.0),
        (3.0, 0.0, 0.0),
    ],
)
def test_the_incomplete_gamma_function_where_it_has_a_closed_form(m: float, x: float, expected: float) -> None:
    assert lower_gamma(m, x) == pytest.approx(expected, rel=1e-12)


@given(models, strengths, minutes_, losses)
def test_a_kill_is_finite_never_negative_and_never_more_for_a_loss(
    model: Kinetics, mg_per_l: float, minutes: float, loss_per_min: float
) -> None:
    steady = model.log10_reduction(mg_per_l, minutes)
    fading = model.log10_reduction(mg_per_l, minutes, loss_per_min=loss_per_min)
    assert isfinite(steady)
    assert 0.0 <= fading <= steady * (1 + 1e-9)
    assert model.ln_survival(mg_per_l, minutes) <= 0.0


@given(models, strengths, st.floats(0.01, LOG10_MAX))
def test_the_time_for_a_kill_gives_that_kill(model: Kinetics, mg_per_l: float, wanted: float) -> None:
    minutes = model.minutes_for(wanted, mg_per_l)
    assert minutes >= 0.0
    if 1e-12 < minutes <= MINUTES_MAX * (1 - 1e-9):
        assert model.log10_reduction(mg_per_l, minutes) == pytest.approx(wanted, rel=1e-6)
        assert model.ct_for(wanted, mg_per_l) == mg_per_l * minutes


def test_a_kill_that_takes_for_ever_takes_for_ever() -> None:
    assert Kinetics(K_RANGE[0]).minutes_for(6.0, 1.0) == inf


@given(st.floats(0.1, 10.0), st.floats(0.01, 100.0), st.floats(0.1, 1000.0), st.floats(0.5, 2.0))
def test_a_model_from_one_kill_gives_that_kill(wanted: float, mg_per_l: float, minutes: float, n: float) -> None:
    model = from_one_kill(wanted, mg_per_l=mg_per_l, minutes=minutes, n=n)
    assert model.log10_reduction(mg_per_l, minutes) == pytest.approx(wanted)


@given(st.floats(-100.0, 100.0), st.floats(-10.0, 10.0))
def test_points_on_a_line_give_that_line(k: float, intercept: float) -> None:
    if abs(k) < 1e-3:
        return
    line = line_through([(ct, intercept - k * ct) for ct in (0.0, 1.0, 2.0, 5.0)])
    assert line.k == pytest.approx(k)
    assert line.intercept == pytest.approx(intercept, abs=1e-9)
    assert line.r_squared == pytest.approx(1.0)


@given(anything, anything, anything, anything)
def test_whatever_is_put_in_is_answered_in_range_or_refused_in_a_sentence(
    one: float, other: float, third: float, fourth: float
) -> None:
    makers = (
        lambda: Kinetics(one, other, third).log10_reduction(third, fourth, loss_per_min=one),
        lambda: Kinetics(one).minutes_for(other, third),
        lambda: from_one_kill(one, mg_per_l=other, minutes=third, n=fourth).k,
        lambda: lower_gamma(one, other),
    )
    for make in makers:
        given_back = answer(make)
        assert given_back is None or given_back >= 0.0


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Kinetics(0.0), "rate k"),
        (lambda: Kinetics(1.0, n=nan), "exponent n"),
        (lambda: Kinetics(1.0, m=0.0), "exponent m"),
        (lambda: Kinetics(1.0).ln_survival(0.0, 1.0), "strength"),
        (lambda: Kinetics(1.0).ln_survival(1.0, -1.0), "time"),
        (lambda: Kinetics(1.0).ln_survival(1.0, 1.0, loss_per_min=-1.0), "loss"),
        (lambda: Kinetics(1.0).minutes_for(0.0, 1.0), "wanted reduction"),
        (lambda: from_one_kill(2.0, mg_per_l=1.0, minutes=0.0), "above zero"),
        (lambda: line_through([(0.0, 0.0), (1.0, -1.0)]), "at least 3"),
        (lambda: line_through([(0.0, 0.0), (1.0, -1.0), (nan, 1.0)]), "finite"),
        (lambda: line_through([(1.0, 0.0), (1.0, -1.0), (1.0, -2.0)]), "span"),
        (lambda: lower_gamma(1.0, -1.0), "not taken"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_twice_the_strength_halves_the_time_of_the_plain_model() -> None:
    model = from_one_kill(3.0, mg_per_l=1.0, minutes=10.0)
    assert model.minutes_for(3.0, 2.0) == pytest.approx(5.0)
    assert model.k == pytest.approx(3 * log(10) / 10)
