"""Percentiles by a named definition; the definitions differ in small samples, so one is always named.

These are for finished cycles or for ages. A set that holds unfinished cycles has its percentiles from
`reprocess.statistics.survival`, as leaving the unfinished ones out makes every percentile too short.

Source: Hyndman and Fan, "Sample Quantiles in Statistical Packages", The American Statistician 1996;50:361-365, types 6,
7 and 1 (from memory); NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2, for p(N + 1).
"""

from collections.abc import Iterable
from enum import StrEnum, unique
from fractions import Fraction
from math import ceil, floor
from typing import assert_never

from reprocess.quantities.exact import Exact, require
from reprocess.statistics.sample import number, numbers


@unique
class Definition(StrEnum):
    """Which place among N sorted values a share p stands for, the least being number 1; the values are stored words.

    A place outside 1 to N is moved to the nearest end.
    """

    NIST = "nist"
    """Place p (N + 1), between two values on the straight line; type 6. The values are a sample of more."""
    INCLUSIVE = "inclusive"
    """Place 1 + p (N - 1), between two values on the straight line; type 7. The values are all there are."""
    NEAREST_RANK = "nearest-rank"
    """Place p N, raised to the next whole place; type 1. Always a value that was observed."""


def percentile(values: Iterable[Exact], share: Exact, definition: Definition) -> Fraction | None:
    """Returns the value that this share of the values does not exceed; None if there are no values.

    `share` is at least 0 and at most 1; a half is the median.

    Raises:
        ValueError: the share lies outside, or a value is not finite.
    """
    wanted = number(share)
    require("A percentile is asked for with a share from 0 to 1.", holds=0 <= wanted <= 1)
    ordered = sorted(numbers(values))
    if not ordered:
        return None
    place = min(max(_place(wanted, len(ordered), definition), Fraction(1)), Fraction(len(ordered)))
    below = floor(place)
    before, after = ordered[below - 1], ordered[min(below, len(ordered) - 1)]
    return before + (place - below) * (after - before)


def _place(share: Fraction, count: int, definition: Definition) -> Fraction:
    match definition:
        case Definition.NIST:
            return share * (count + 1)
        case Definition.INCLUSIVE:
            return 1 + share * (count - 1)
        case Definition.NEAREST_RANK:
            return Fraction(ceil(share * count))
        case _:
            assert_never(definition)
