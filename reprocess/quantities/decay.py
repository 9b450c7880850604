"""How long a bath keeps its strength, if it loses the same share of it every day. Advice only.

First order is an assumption: published losses of chlorine run from hours to months and depend on
pH, light, bottle, temperature and strength. So a rate always names the temperature it was found at,
and nothing is carried to another temperature without a factor that the caller names.

The label's use life and the test strip govern. No contact time and no leave to use a bath is ever
computed from these, and nothing in `rules` or `engine` reads this module.

Source: first-order decay, C = C0 exp(-k t). The factor for 10 K (Q10) as in the published tables;
none of them asks for an activation energy.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import exp, fsum, inf, log, log10

from reprocess.quantities.dilution import Strength
from reprocess.quantities.exact import Exact, exactly
from reprocess.quantities.trace import PLAUSIBLE_C, inside

RATE_PER_DAY_MAX = 1e6
"""A half life below a tenth of a second is a slip of the hand. Our own choice."""

DAYS_MAX = 36_525.0
"""A century. Our own choice."""

Q10_RANGE = (1.0, 10.0)
"""A factor for 10 K outside is a slip of the hand; 2 to 4.5 are in print. Our own choice."""

READINGS_MAX = 10_000
"""More readings than a bath ever has. Our own choice."""

_LN_2 = log(2.0)


@dataclass(frozen=True, slots=True)
class Decay:
    """First-order loss of strength: a rate, in 1/day, and the temperature it holds at. Rate 0: none is lost.

    Raises:
        ValueError: the rate or the temperature is not believable.
    """

    rate_per_day: float
    celsius: float

    def __post_init__(self) -> None:
        _within("A rate of decay", self.rate_per_day, (0.0, RATE_PER_DAY_MAX), "1/day")
        _within("A temperature", self.celsius, PLAUSIBLE_C, "degrees Celsius")

    @property
    def half_life_days(self) -> float:
        """Returns the days in which half of the strength is lost; inf when none is."""
        return _LN_2 / self.rate_per_day if self.rate_per_day > 0 else inf

    def share_left(self, days: float) -> float:
        """Returns the share of the strength, from 0 to 1, that is left after so many days.

        Raises:
            ValueError: the days are negative or too many.
        """
        return exp(-self.rate_per_day * _days(days))

    def strength_after(self, start: Strength, days: float) -> Strength:
        """Returns the strength that is left after so many days.

        Raises:
            ValueError: the days are negative or too many.
        """
        return Strength(start.mg_per_l * Fraction(self.share_left(days)))

    def days_until(self, start: Strength, least: Strength) -> float:
        """Returns the days until the strength has come down to the least one, at which it still counts as met.

        0 when it is not above the least one to begin with; inf when it never comes down to it.
        """
        if start <= least:
            return 0.0
        if least.mg_per_l == 0 or self.rate_per_day == 0:
            return inf
        ratio = start.mg_per_l / least.mg_per_l
        # The two logarithms apart, because the ratio of two exact numbers may be more than a float holds.
        return max(0.0, log(ratio.numerator) - log(ratio.denominator)) / self.rate_per_day

    def at(self, celsius: float, *, q10: float) -> "Decay":
        """Returns the decay at another temperature, faster by the factor `q10` for every 10 K.

        There is no factor for all solutions: name the one of this solution.

        Raises:
            ValueError: the factor or the temperature is not believable, or the rate leaves its range.
        """
        _within("A factor for 10 K", q10, Q10_RANGE, "")
        _within("A temperature", celsius, PLAUSIBLE_C, "degrees Celsius")
        return Decay(self.rate_per_day * q10 ** ((celsius - self.celsius) / 10), celsius)


def from_half_life(days: float, *, celsius: float) -> Decay:
    """Returns the decay that loses half of the strength in so many days.

    Raises:
        ValueError: the days are not above zero or too many, or the temperature is not believable.
    """
    return Decay(_LN_2 / _some_days(days), celsius)


def from_share_left(share: Exact, days: float, *, celsius: float) -> Decay:
    """Returns the decay that leaves this share of the strength, above 0 and at most 1, after so many days.

    Raises:
        ValueError: the share, the days or the temperature is not believable.
    """
    return Decay(-_ln_share(share) / _some_days(days), celsius)


def from_readings(readings: Iterable[tuple[float, Exact]], *, celsius: float) -> Decay:
    """Returns the decay that fits (days, share left) best: least squares of the logarithm, through the start.

    A single reading may stand above the start, as strips do; the fit as a whole may not rise.

    Raises:
        ValueError: there is no reading after the start, too many, one is not believable, or the fit rises.
    """
    pairs = [(_days(days), _ln_share(share, most=None)) for days, share in readings]
    weight = fsum(days * days for days, _ in pairs)
    if not weight > 0 or len(pairs) > READINGS_MAX:
        sentence = f"A decay is read from 1 to {READINGS_MAX} readings, and from one after the start at least."
        raise ValueError(sentence)
    rate = -fsum(days * ln_share for days, ln_share in pairs) / weight
    if rate < 0:
        sentence = "These readings rise; a solution does not grow stronger by itself."
        raise ValueError(sentence)
    return Decay(rate, celsius)


def factor_for_10_k(rate: float, celsius: float, other_rate: float, other_celsius: float) -> float:
    """Returns the factor for 10 K between two rates, in any one unit, at two temperatures at least 1 K apart.

    Raises:
        ValueError: a rate is not above zero, a temperature is not believable, or the factor leaves its range.
    """
    for one in (celsius, other_celsius):
        _within("A temperature", one, PLAUSIBLE_C, "degrees Celsius")
    rise_k = other_celsius - celsius
    if not (0 < rate < inf and 0 < other_rate < inf and abs(rise_k) >= 1):
        sentence = "A factor for 10 K needs two rates above zero at temperatures at least 1 K apart."
        raise ValueError(sentence)
    tenfolds = (log10(other_rate) - log10(rate)) * 10 / rise_k
    # Judged before the power is raised, because that could be more than a float holds.
    _within("The logarithm of a factor for 10 K", tenfolds, (log10(Q10_RANGE[0]), log10(Q10_RANGE[1])), "")
    return float(10.0**tenfolds)


def _some_days(days: float) -> float:
    if days == 0:
        sentence = "A decay is not read from no time at all."
        raise ValueError(sentence)
    return _days(days)


def _days(days: float) -> float:
    _within("A time", days, (0.0, DAYS_MAX), "days")
    return days


def _ln_share(share: Exact, most: int | None = 1) -> float:
    left = exactly(share)
    if left <= 0 or (most is not None and left > most):
        sentence = f"A share of {share} is not above 0" + ("." if most is None else f" and at most {most}.")
        raise ValueError(sentence)
    return log(left.numerator) - log(left.denominator)


def _within(what: str, value: float, bounds: tuple[float, float], unit: str) -> None:
    if not inside(value, bounds):
        sentence = f"{what} of {value} lies outside {bounds} {unit}".rstrip() + "."
        raise ValueError(sentence)
