"""How long cycles and parts last when some of them have not ended yet.

An unfinished cycle is not left out: it is known to last at least as long as it has been watched, and is counted among
those at risk until then, that time included. This holds if those still unfinished are like the others. While a queue
grows they are not, and the answer is too short; show the age of the unfinished beside it.

Source: Kaplan and Meier, "Nonparametric Estimation from Incomplete Observations", Journal of the American Statistical
Association 1958;53:457-481; the variance of Greenwood on the log-log scale, so that the interval stays from 0 to 1;
the log-rank test with the hypergeometric variance (Mantel, Cancer Chemotherapy Reports 1966;50:163-170). From memory.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import erfc, exp, fsum, log, sqrt

from reprocess.quantities.exact import Exact, require
from reprocess.statistics.sample import normal_quantile, number


@dataclass(frozen=True, slots=True)
class Observation:
    """How long one cycle or part lasted, or has lasted so far if it has not ended (right-censored); any unit of time.

    Raises:
        ValueError: the time is not finite, or below zero.
    """

    lasted: Exact
    ended: bool

    def __post_init__(self) -> None:
        require("Nothing lasts less than no time.", holds=number(self.lasted) >= 0)


def watched(began: int, ended: int | None, now: int) -> Observation:
    """Returns what was known at the instant `now`; all three are instants of one clock, `ended` None while unfinished.

    What ended after `now` was unfinished then.

    Raises:
        ValueError: it ended before it began, or began after `now`.
    """
    require("A cycle cannot end before it began.", holds=ended is None or ended >= began)
    require("A cycle that has not begun cannot be watched.", holds=began <= now)
    if ended is None or ended > now:
        return Observation(now - began, ended=False)
    return Observation(ended - began, ended=True)


@dataclass(frozen=True, slots=True)
class Step:
    """What happened at a time at which something ended, and the share that lasts longer.

    `interval` is the lower and the upper bound of that share. It is None where nothing is left, as the method has none
    there.
    """

    at: Fraction
    at_risk: int
    ended: int
    lasting: Fraction
    interval: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Curve:
    """The Kaplan-Meier estimate: one step a time at which something ended, earliest first.

    `unfinished_at` holds the times until which the unfinished ones were watched, shortest first, one entry each.
    """

    steps: tuple[Step, ...]
    unfinished_at: tuple[Fraction, ...]
    observed: int
    longest: Fraction

    def lasting(self, time: Exact) -> Fraction | None:
        """Returns the share that lasts longer than `time`; None beyond what was watched, if any were unfinished then.

        Raises:
            ValueError: the time is not finite, or below zero.
        """
        asked = number(time)
        require("Nothing lasts less than no time.", holds=asked >= 0)
        passed = [step.lasting for step in self.steps if step.at <= asked]
        share = passed[-1] if passed else Fraction(1)
        return None if asked > self.longest and share > 0 else share

    def ended_by(self, share: Exact) -> Fraction | None:
        """Returns the earliest time by which at least this share has ended; None if that is not reached.

        A half is the median. "Not reached" is an answer and says more than the greatest time that was seen.

        Raises:
            ValueError: the share is not above 0 and at most 1.
        """
        wanted = number(share)
        require("A time is asked for with a share above 0 and at most 1.", holds=0 < wanted <= 1)
        return next((step.at for step in self.steps if step.lasting <= 1 - wanted), None)


@dataclass(frozen=True, slots=True)
class LogRank:
    """The comparison of two groups: how many ended in the first, and how many if both were alike.

    `p_value` is the chance of a difference at least as large between groups that are alike.
    """

    ended: int
    expected: float
    chi_squared: float
    p_value: float


def kaplan_meier(observations: Iterable[Observation], confidence: float = 0.95) -> Curve | None:
    """Returns the share that lasts longer than each time; None if nothing was observed.

    Raises:
        ValueError: the confidence is not between 0 and 1.
    """
    deviations = normal_quantile(confidence)
    watched_for, ends = _times(observations)
    if not watched_for:
        return None
    steps = []
    lasting, variance = Fraction(1), 0.0
    for at, ended in sorted(ends.items()):
        at_risk = len(watched_for) - bisect_left(watched_for, at)
        lasting *= Fraction(at_risk - ended, at_risk)
        if lasting:
            variance += ended / (at_risk * (at_risk - ended))
        steps.append(Step(at, at_risk, ended, lasting, _interval(lasting, deviations * sqrt(variance))))
    unfinished = Counter(watched_for) - ends
    return Curve(tuple(steps), tuple(sorted(unfinished.elements())), len(watched_for), watched_for[-1])


def log_rank(first: Iterable[Observation], second: Iterable[Observation]) -> LogRank | None:
    """Returns the comparison of two groups; None if nothing ended while both groups were at risk.

    Cycles of one item, or of one busy day, are not independent; then the p value is too small.
    """
    first_for, first_ends = _times(first)
    second_for, second_ends = _times(second)
    expected, variances = [], []
    for at in first_ends.keys() | second_ends.keys():
        ended = first_ends[at] + second_ends[at]
        ours = len(first_for) - bisect_left(first_for, at)
        both = ours + len(second_for) - bisect_left(second_for, at)
        expected.append(ended * ours / both)
        if both > 1:
            variances.append(ended * ours * (both - ours) * (both - ended) / (both**2 * (both - 1)))
    variance = fsum(variances)
    if variance == 0:
        return None
    chi_squared = (first_ends.total() - fsum(expected)) ** 2 / variance
    # The upper tail of chi-squared with one degree of freedom.
    return LogRank(first_ends.total(), fsum(expected), chi_squared, erfc(sqrt(chi_squared / 2)))


def _times(observations: Iterable[Observation]) -> tuple[Sequence[Fraction], Counter[Fraction]]:
    """Returns how long each was watched, shortest first, and how many ended at each time."""
    known = [(number(one.lasted), one.ended) for one in observations]
    return sorted(lasted for lasted, _ in known), Counter(lasted for lasted, ended in known if ended)


def _interval(lasting: Fraction, half_width: float) -> tuple[float, float] | None:
    """Returns the bounds; `half_width` is that of the logarithm of the share."""
    share = float(lasting)
    if share in {0.0, 1.0}:
        return None
    factor = exp(half_width / -log(share))
    return share**factor, share ** (1 / factor)
