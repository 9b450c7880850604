"""A Weibull distribution fitted to lifetimes of which some have not ended, by maximum likelihood.

A shape below 1 says that parts fail early, 1 that age does not matter, above 1 that they wear out.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3. The likelihood has one greatest value, because its
derivative by the shape falls throughout.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, fsum, log

from reprocess.quantities.exact import require
from reprocess.statistics.survival import Observation

SHAPES = (0.05, 1000.0)
"""A shape outside says that the times do not follow such a law at all. Our own choice."""

_HALVINGS = 200
"""More than a float can tell apart."""

_EXPONENT_MAX = 700.0
"""Of so many or more nothing is left, and a float still holds the power."""


@dataclass(frozen=True, slots=True)
class Weibull:
    """The shape, the scale in the unit of the times, and how likely they make the observations (natural logarithm)."""

    shape: float
    scale: float
    log_likelihood: float
    ended: int
    unfinished: int

    def lasting(self, time: float) -> float:
        """Returns the share that lasts longer than this time, which is not below zero.

        Raises:
            ValueError: the time is below zero or no number.
        """
        require("Nothing lasts less than no time.", holds=time >= 0)
        if time == 0:
            return 1.0
        return exp(-exp(min(_EXPONENT_MAX, self.shape * (log(time) - log(self.scale)))))


def fit_weibull(observations: Iterable[Observation]) -> Weibull | None:
    """Returns the most likely Weibull distribution.

    Returns None if the observations single out none with a shape inside `SHAPES`: nothing has ended, or all that has
    ended lasted as long as the longest.

    Raises:
        ValueError: something lasted no time at all.
    """
    known = [(float(one.lasted), one.ended) for one in observations]
    require("A lifetime must be more than zero.", holds=all(lasted > 0 for lasted, _ in known))
    ends = [lasted for lasted, ended in known if ended]
    if not ends:
        return None
    longest = max(lasted for lasted, _ in known)
    logs = [log(lasted) - log(longest) for lasted, _ in known]
    mean_end = fsum(log(lasted) - log(longest) for lasted in ends) / len(ends)
    shape = _shape(logs, mean_end)
    if shape is None:
        return None
    scale = longest * (fsum(exp(shape * one) for one in logs) / len(ends)) ** (1 / shape)
    likelihoods = (log(shape / scale) + (shape - 1) * (log(lasted) - log(scale)) for lasted in ends)
    # At the greatest likelihood the sum of (time / scale) ** shape is the number of ends.
    return Weibull(shape, scale, fsum(likelihoods) - len(ends), ended=len(ends), unfinished=len(known) - len(ends))


def _shape(logs: list[float], mean_end: float) -> float | None:
    """Returns the shape at which the slope of the likelihood is 0; None if that lies outside `SHAPES`.

    `logs` are the logarithms of all times over the longest one, `mean_end` is the mean of those that ended.
    """

    def slope_below_zero(shape: float) -> bool:
        weights = [exp(shape * one) for one in logs]
        weighted = fsum(weight * one for weight, one in zip(weights, logs, strict=True))
        return weighted / fsum(weights) - 1 / shape > mean_end

    low, high = SHAPES
    if slope_below_zero(low) or not slope_below_zero(high):
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if slope_below_zero(middle) else (middle, high)
    return low
