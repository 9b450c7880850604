"""Models of how a disinfectant kills: Chick-Watson and Hom, at a steady or a fading strength. Advice only.

The models fit one organism in one water; their numbers do not carry over to a soiled part in a bath.
No contact time is ever computed from these; the label governs. Nothing in `rules` or `engine` reads
this module.

Source: Hom, ln(N / N0) = -k C**n t**m, which is Chick-Watson with m = 1; both with first-order loss of
the disinfectant as in Holcomb and others, Emerging Infectious Diseases 2024;30(10), its tutorial,
equations 5 to 11, but with the lower incomplete gamma function itself: the tutorial's program takes the
regularised one, and so prints a k that is greater by the factor gamma(m).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, gamma, inf, isfinite, log
from statistics import StatisticsError, correlation, linear_regression

from reprocess.quantities.trace import inside

MG_PER_L_RANGE = (1e-6, 1e6)
"""From a billionth of a percent to pure water's own weight. Our own choice."""

MINUTES_MAX = 1e6
"""About two years. Our own choice."""

K_RANGE = (1e-30, 1e30)
"""Published fits reach e**25. Our own choice."""

N_RANGE = (0.01, 20.0)
"""The exponent of the concentration; published fits reach 11. Our own choice."""

M_RANGE = (0.1, 10.0)
"""The exponent of the time; 1 is Chick-Watson. Our own choice."""

LOSS_PER_MIN_MAX = 1e3
"""A disinfectant that is gone within a second. Our own choice."""

LOG10_MAX = 100.0
"""No population has more powers of ten to lose. Our own choice."""

POINTS_MIN = 3
"""Two points lie on a line whatever they say."""

_LN_10 = log(10.0)
_NOTHING_FADED = 1e-12
"""Below this the loss of disinfectant changes nothing, and its power would come near to dividing by zero."""
_TOO_SMALL_TO_ADD = 1e-17
_ALL_OF_GAMMA = 200.0
"""From here on the incomplete gamma function differs from the whole by nothing, for every m in range."""


@dataclass(frozen=True, slots=True)
class Kinetics:
    """A fitted model: ln(N0 / N) = k C**n t**m, with C in mg/L and t in minutes; k is in the units they leave.

    Raises:
        ValueError: a parameter is not one that a fit could give.
    """

    k: float
    n: float = 1.0
    m: float = 1.0

    def __post_init__(self) -> None:
        _within("A rate k", self.k, K_RANGE)
        _within("An exponent n of the concentration", self.n, N_RANGE)
        _within("An exponent m of the time", self.m, M_RANGE)

    def ln_survival(self, mg_per_l: float, minutes: float, *, loss_per_min: float = 0.0) -> float:
        """Returns ln(N / N0), at most 0, after so many minutes at a strength that fades by `loss_per_min`.

        `loss_per_min` is the first-order rate at which the disinfectant itself is lost, from 0 (steady).

        Raises:
            ValueError: the strength, the time or the loss is not believable.
        """
        _within("A strength in mg/L", mg_per_l, MG_PER_L_RANGE)
        _within("A time in minutes", minutes, (0.0, MINUTES_MAX))
        _within("A loss of disinfectant in 1/min", loss_per_min, (0.0, LOSS_PER_MIN_MAX))
        steady = float(self.k * mg_per_l**self.n * minutes**self.m)
        faded = self.n * loss_per_min * minutes
        if faded < _NOTHING_FADED:
            return 0.0 - steady
        return 0.0 - steady * self.m * lower_gamma(self.m, faded) / float(faded**self.m)

    def log10_reduction(self, mg_per_l: float, minutes: float, *, loss_per_min: float = 0.0) -> float:
        """Returns the powers of ten by which the population falls, from 0; otherwise like `ln_survival`."""
        return 0.0 - self.ln_survival(mg_per_l, minutes, loss_per_min=loss_per_min) / _LN_10

    def minutes_for(self, log10_reduction: float, mg_per_l: float) -> float:
        """Returns the minutes at a steady strength that lower the population by so many powers of ten.

        inf where that takes longer than `MINUTES_MAX`.

        Raises:
            ValueError: the reduction is not above zero or too large, or the strength is not believable.
        """
        _within("A strength in mg/L", mg_per_l, MG_PER_L_RANGE)
        if not 0 < log10_reduction <= LOG10_MAX:
            sentence = f"A wanted reduction of {log10_reduction} powers of ten is not above 0 and at most {LOG10_MAX}."
            raise ValueError(sentence)
        # In logarithms, because the minutes of a slow model are more than a float holds.
        ln_minutes = (log(log10_reduction * _LN_10) - log(self.k) - self.n * log(mg_per_l)) / self.m
        return exp(ln_minutes) if ln_minutes <= log(MINUTES_MAX) else inf

    def ct_for(self, log10_reduction: float, mg_per_l: float) -> float:
        """Returns CT, in mg min/L, for so many powers of ten at a steady strength; otherwise like `minutes_for`."""
        return mg_per_l * self.minutes_for(log10_reduction, mg_per_l)


def from_one_kill(log10_reduction: float, *, mg_per_l: float, minutes: float, n: float = 1.0) -> Kinetics:
    """Returns the Chick-Watson model that gives this reduction at this strength after so many minutes.

    Raises:
        ValueError: a value is not believable, or the time is none at all.
    """
    _within("A strength in mg/L", mg_per_l, MG_PER_L_RANGE)
    _within("An exponent n of the concentration", n, N_RANGE)
    if not (0 < log10_reduction <= LOG10_MAX and 0 < minutes <= MINUTES_MAX):
        sentence = "A model is read from a reduction and a time above zero."
        raise ValueError(sentence)
    return Kinetics(log10_reduction * _LN_10 / (mg_per_l**n * minutes), n)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line of ln(N / N0) over CT: the rate k, where it starts, and how well it fits (1 is exactly)."""

    k: float
    intercept: float
    r_squared: float


def line_through(exposures: Sequence[tuple[float, float]]) -> Line:
    """Returns the least-squares line of (CT, ln(N / N0)), with an intercept; k is in 1 over the unit of CT.

    Raises:
        ValueError: there are fewer than three points, they are not finite, or they do not span a line.
    """
    if len(exposures) < POINTS_MIN or not all(isfinite(one) for pair in exposures for one in pair):
        sentence = f"A line needs at least {POINTS_MIN} finite points."
        raise ValueError(sentence)
    ct, ln_survival = zip(*exposures, strict=True)
    try:
        slope, intercept = linear_regression(ct, ln_survival)
        r_squared = correlation(ct, ln_survival) ** 2
    except StatisticsError as error:
        sentence = "These points do not span a line: one of the two never changes."
        raise ValueError(sentence) from error
    return Line(-slope, intercept, r_squared)


def lower_gamma(m: float, x: float) -> float:
    """Returns the lower incomplete gamma function of m at x, not regularised, by its power series.

    Raises:
        ValueError: m lies outside its range, or x is negative.
    """
    _within("An exponent m of the time", m, M_RANGE)
    if not x >= 0:
        sentence = f"The incomplete gamma function is not taken at {x}."
        raise ValueError(sentence)
    if x > _ALL_OF_GAMMA:
        return gamma(m)
    term, total, step = 1 / m, 0.0, 0
    # Ends, because each term is smaller than the one before as soon as there are more of them than x.
    while term > total * _TOO_SMALL_TO_ADD:
        total += term
        step += 1
        term *= x / (m + step)
    return float(x**m * exp(-x) * total)


def _within(what: str, value: float, bounds: tuple[float, float]) -> None:
    if not inside(value, bounds):
        sentence = f"{what} of {value} lies outside {bounds}."
        raise ValueError(sentence)
