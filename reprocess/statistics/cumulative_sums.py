"""The tabular cumulative sum: a small lasting shift, found sooner than by a chart of single values.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3; both sums begin at 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from reprocess.quantities.exact import Exact, require
from reprocess.statistics.sample import number, positive


@dataclass(frozen=True, slots=True)
class Sums:
    """Both sums after each place, in the unit of the values, and the number of the first place with a signal.

    `high` grows while the values lie above the target, `low` while they lie below; neither is below 0. None in
    `first_signal` means that neither sum passed the threshold; the first place is number 1.
    """

    high: tuple[Fraction, ...]
    low: tuple[Fraction, ...]
    first_signal: int | None


def cumulative_sums(values: Sequence[Exact | None], *, target: Exact, slack: Exact, threshold: Exact) -> Sums | None:
    """Returns both cumulative sums; a sum signals only above the threshold. None if there is no value.

    `slack` (k) is what a value may differ from the target without counting, `threshold` (h) what a sum may reach, all
    in the unit of the values. A missing value leaves both sums as they are.

    Raises:
        ValueError: a number is not finite, the slack is below zero or the threshold not above it.
    """
    middle, allowed, decision = number(target), number(slack), positive(threshold, "The threshold of a sum")
    require("The slack of a sum is not less than zero.", holds=allowed >= 0)
    if all(value is None for value in values):
        return None
    high, low = [Fraction(0)], [Fraction(0)]
    for value in values:
        difference = None if value is None else number(value) - middle
        high.append(high[-1] if difference is None else max(Fraction(0), high[-1] + difference - allowed))
        low.append(low[-1] if difference is None else max(Fraction(0), low[-1] - difference - allowed))
    signals = (place for place in range(1, len(high)) if max(high[place], low[place]) > decision)
    return Sums(tuple(high[1:]), tuple(low[1:]), first_signal=next(signals, None))
