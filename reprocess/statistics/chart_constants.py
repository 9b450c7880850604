"""The constants of control charts: how far the range of a few normal values lies from their deviation.

They are integrated, not copied, as printed tables differ in the last digit. Charts take them rounded to the three
decimals that tables print, so that a chart drawn here has the limits of one drawn by hand.

Source: the range of n normal values is at most w with the chance n times the integral of
f(x) (F(x + w) - F(x)) ** (n - 1) dx, f and F being the standard normal density and distribution. The symbols are those
of ASTM E2587.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from math import erfc, exp, pi, sqrt

from reprocess.quantities.exact import require

SIZES = (2, 25)
"""The subgroup sizes that tables print; a range says little about a larger subgroup."""

SIGMAS = 3
"""Limits stand three standard deviations away, as W. A. Shewhart chose them."""

_STEP = 0.05
_REACH = 170
"""Steps from the middle to where a normal value never lies."""
_WIDEST = 280
"""Steps of the widest range that is looked at; even, for the rule of Simpson."""


@dataclass(frozen=True, slots=True)
class Constants:
    """The constants for subgroups of one size, unrounded."""

    size: int
    d2: float
    """Mean of the range, in standard deviations."""
    d3: float
    """Standard deviation of the range, in standard deviations."""
    mean_limit: float
    """A2: the limits of means lie so many mean ranges from the middle."""
    range_lower: float
    """D3: the lower limit of ranges, in mean ranges; never below 0."""
    range_upper: float
    """D4: the upper limit of ranges, in mean ranges."""
    individual_limit: float
    """E2: the limits of single values lie so many mean ranges from the middle."""


@cache
def constants(size: int) -> Constants:
    """Returns the constants for subgroups of this size.

    Raises:
        ValueError: the size lies outside `SIZES`.
    """
    least, most = SIZES
    require(f"A subgroup holds {least} to {most} values.", holds=least <= size <= most)
    beyond = _chances_of_a_wider_range(size)
    d2 = _simpson(beyond)
    d3 = sqrt(_simpson([2 * _STEP * index * chance for index, chance in enumerate(beyond)]) - d2**2)
    return Constants(
        size=size,
        d2=d2,
        d3=d3,
        mean_limit=SIGMAS / (d2 * sqrt(size)),
        range_lower=max(0.0, 1 - SIGMAS * d3 / d2),
        range_upper=1 + SIGMAS * d3 / d2,
        individual_limit=SIGMAS / d2,
    )


def printed(constant: float) -> Fraction:
    """Returns a constant as tables print it, with three decimals."""
    return Fraction(round(constant * 1000), 1000)


def _chances_of_a_wider_range(size: int) -> list[float]:
    """Returns the chances that the range is wider than 0, 1, 2 ... steps."""
    places = range(-_REACH, _REACH + 1)
    below = [erfc(-place * _STEP / sqrt(2)) / 2 for place in range(-_REACH, _REACH + _WIDEST + 1)]
    density = [exp(-((place * _STEP) ** 2) / 2) / sqrt(2 * pi) for place in places]
    return [
        1 - size * _STEP * sum(density[i] * (below[i + width] - below[i]) ** (size - 1) for i in range(len(places)))
        for width in range(_WIDEST + 1)
    ]


def _simpson(values: list[float]) -> float:
    return _STEP / 3 * (values[0] + 4 * sum(values[1:-1:2]) + 2 * sum(values[2:-1:2]) + values[-1])
