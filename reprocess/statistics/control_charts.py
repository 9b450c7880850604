"""Control charts: whether a process still does what it did, or something has changed.

A point is beyond only if it lies outside its limits; on the limit is inside. That is judged on exact numbers, and only
the limits for drawing are rounded. A place where nothing was measured stays empty and breaks the moving range.

Source: ASTM E2587 and NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2 and 6.3.3.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import inf, sqrt

from reprocess.quantities.exact import Exact, require
from reprocess.statistics.chart_constants import SIGMAS, constants, printed
from reprocess.statistics.sample import mean, number, numbers


@dataclass(frozen=True, slots=True)
class Point:
    """One value with its own limits, rounded for drawing; `beyond` is judged before rounding."""

    value: Fraction
    lower: float
    upper: float
    beyond: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """A middle line and one point a place, in order; None where there is no value."""

    centre: Fraction
    points: tuple[Point | None, ...]

    @property
    def beyond(self) -> tuple[int, ...]:
        """Returns the numbers of the points outside their limits; the first place is number 1."""
        return tuple(place for place, point in enumerate(self.points, start=1) if point is not None and point.beyond)


@dataclass(frozen=True, slots=True)
class WithRanges:
    """A chart of values or means, and the chart of ranges that its limits rest on; one point a place in both."""

    values: Chart
    ranges: Chart


def moving_ranges(values: Sequence[Exact | None]) -> tuple[Fraction | None, ...]:
    """Returns the distance of each value from the one just before it; None where either is missing, so at the first."""
    known = _known(values)
    return tuple(
        None if before is None or after is None else abs(after - before) for before, after in pairwise((None, *known))
    )


def individuals_chart(values: Sequence[Exact | None]) -> WithRanges | None:
    """Returns the chart of single values and of their moving ranges; None if no two values stand side by side.

    Raises:
        ValueError: a value is not finite.
    """
    ranges = moving_ranges(values)
    known_ranges = _present(ranges)
    if not known_ranges:
        return None
    known = _known(values)
    middle, range_mean = mean(_present(known)), mean(known_ranges)
    spread = SIGMAS * range_mean / printed(constants(2).d2)
    return WithRanges(
        values=_level_chart(known, middle - spread, middle, middle + spread),
        ranges=_range_chart(range_mean, ranges, size=2),
    )


def means_chart(subgroups: Sequence[Sequence[Exact] | None]) -> WithRanges | None:
    """Returns the chart of the means of equally large subgroups and of their ranges; None if there is no subgroup.

    Raises:
        ValueError: subgroups differ in size, the size is none that a range serves, or a value is not finite.
    """
    groups = [None if group is None else numbers(group) for group in subgroups]
    sizes = {len(group) for group in groups if group is not None}
    require("Subgroups on one chart have the same size.", holds=len(sizes) <= 1)
    if not sizes:
        return None
    size = sizes.pop()
    mean_limit = printed(constants(size).mean_limit)
    means = [None if group is None else mean(group) for group in groups]
    ranges = [None if group is None else max(group) - min(group) for group in groups]
    middle, range_mean = mean(_present(means)), mean(_present(ranges))
    spread = mean_limit * range_mean
    return WithRanges(
        values=_level_chart(means, middle - spread, middle, middle + spread),
        ranges=_range_chart(range_mean, ranges, size=size),
    )


def c_chart(counts: Sequence[int | None]) -> Chart | None:
    """Returns the chart of counts of defects among equally many chances (c); None if nothing was counted.

    Raises:
        ValueError: a count is below zero.
    """
    return u_chart([count or 0 for count in counts], [0 if count is None else 1 for count in counts])


def u_chart(counts: Sequence[int], units: Sequence[Exact]) -> Chart | None:
    """Returns the chart of defects for each unit looked at (u); None if no unit was looked at.

    A place with no unit stays empty, and so must its count.

    Raises:
        ValueError: the lists differ in length, or there is less than none of something.
    """
    return _rates_chart(counts, numbers(units), variance=lambda rate: rate, most=inf)


def p_chart(counts: Sequence[int], sizes: Sequence[int]) -> Chart | None:
    """Returns the chart of shares (p): how many of how many; None if every place is a share of nothing.

    A place of size 0 stays empty.

    Raises:
        ValueError: the lists differ in length, more were counted than there are, or there is less than none.
    """
    pairs = zip(counts, sizes, strict=False)
    require("No more can be counted than there are.", holds=all(count <= size for count, size in pairs))
    return _rates_chart(counts, numbers(sizes), variance=lambda rate: rate * (1 - rate), most=1)


def _rates_chart(
    counts: Sequence[int], sizes: Sequence[Fraction], *, variance: Callable[[Fraction], Fraction], most: float
) -> Chart | None:
    """Returns the chart of counts by sizes; `variance` is that of a single unit at the mean rate."""
    _require_countable(counts, sizes)
    if not any(sizes):
        return None
    centre = Fraction(sum(counts)) / sum(sizes)
    nine_variances = SIGMAS**2 * variance(centre)
    points = (
        _rate_point(count / size, centre, nine_variances / size, most) if size else None
        for count, size in zip(counts, sizes, strict=True)
    )
    return Chart(centre, tuple(points))


def _require_countable(counts: Sequence[int], sizes: Sequence[Fraction]) -> None:
    require("A chart needs one size for each count.", holds=len(counts) == len(sizes))
    require("Nothing is counted less than no times.", holds=all(count >= 0 for count in counts))
    require("A size is not less than none.", holds=all(size >= 0 for size in sizes))
    idle = (count for count, size in zip(counts, sizes, strict=True) if not size)
    require("Where nothing was looked at, nothing can be counted.", holds=not any(idle))


def _rate_point(rate: Fraction, centre: Fraction, spread_squared: Fraction, most: float) -> Point:
    spread = sqrt(spread_squared)
    return Point(
        value=rate,
        lower=max(0.0, float(centre) - spread),
        upper=min(most, float(centre) + spread),
        # Squared, so that a point on its limit is never put beyond it by the rounding of a root.
        beyond=(rate - centre) ** 2 > spread_squared,
    )


def _range_chart(range_mean: Fraction, ranges: Sequence[Fraction | None], size: int) -> Chart:
    known = constants(size)
    lower, upper = printed(known.range_lower) * range_mean, printed(known.range_upper) * range_mean
    return _level_chart(ranges, lower, range_mean, upper)


def _level_chart(values: Sequence[Fraction | None], lower: Fraction, centre: Fraction, upper: Fraction) -> Chart:
    """Returns a chart with the same limits at every place."""
    points = (
        None if value is None else Point(value, float(lower), float(upper), beyond=not lower <= value <= upper)
        for value in values
    )
    return Chart(centre, tuple(points))


def _known(values: Sequence[Exact | None]) -> tuple[Fraction | None, ...]:
    return tuple(None if value is None else number(value) for value in values)


def _present(values: Sequence[Fraction | None]) -> tuple[Fraction, ...]:
    return tuple(value for value in values if value is not None)
