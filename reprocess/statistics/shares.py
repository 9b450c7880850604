"""Shares such as compliance, with the interval in which the share behind the counts may lie.

Source: Wilson, "Probable Inference, the Law of Succession, and Statistical Inference", Journal of the American
Statistical Association 1927;22:209-212: the interval without a correction for continuity.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from reprocess.quantities.exact import require
from reprocess.statistics.sample import normal_quantile


@dataclass(frozen=True, slots=True)
class Share:
    """How many of how many, and the interval of this confidence; all from 0 to 1."""

    met: int
    of: int
    estimate: Fraction
    lower: float
    upper: float
    confidence: float


def wilson(met: int, of: int, confidence: float = 0.95) -> Share | None:
    """Returns the share with its Wilson interval; None if it is a share of nothing, which is neither 0 % nor 100 %.

    Raises:
        ValueError: more were met than there are, a count is below zero, or the confidence is not between 0 and 1.
    """
    require("A share counts at least none and at most all.", holds=0 <= met <= of)
    deviations = normal_quantile(confidence)
    if of == 0:
        return None
    estimate = met / of
    squared = deviations**2
    centre = estimate + squared / (2 * of)
    margin = deviations * sqrt(estimate * (1 - estimate) / of + squared / (2 * of) ** 2)
    # Rounding may put a bound a hair beyond the estimate when none or all were met.
    return Share(
        met=met,
        of=of,
        estimate=Fraction(met, of),
        lower=max(0.0, min(estimate, (centre - margin) / (1 + squared / of))),
        upper=min(1.0, max(estimate, (centre + margin) / (1 + squared / of))),
        confidence=confidence,
    )
