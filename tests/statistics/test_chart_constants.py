"""The constants of control charts come out of other formulas as well, and are rounded as tables round them."""

from fractions import Fraction
from math import erf, exp, pi, sqrt

import pytest

from reprocess.statistics.chart_constants import SIZES, constants, printed

SIZES_ALL = range(SIZES[0], SIZES[1] + 1)


def mean_range(size: int) -> float:
    """Returns the integral of 1 - F ** n - (1 - F) ** n.

    Source: Tippett, "On the Extreme Individuals and the Range of Samples Taken from a Normal Population", Biometrika
    1925;17:364-387 (from memory).
    """
    step = 0.01
    below = [(1 + erf(index * step / sqrt(2))) / 2 for index in range(-900, 901)]
    return step * sum(1 - share**size - (1 - share) ** size for share in below)


@pytest.mark.parametrize("size", SIZES_ALL)
def test_the_mean_range_is_that_of_another_integral(size: int) -> None:
    assert constants(size).d2 == pytest.approx(mean_range(size), abs=1e-6)


# Closed forms: a range of two is the absolute difference, normal with variance 2; d2 of three is 3 / sqrt(pi).
def test_the_smallest_sizes_have_closed_forms() -> None:
    assert constants(2).d2 == pytest.approx(2 / sqrt(pi), abs=1e-6)
    assert constants(2).d3 == pytest.approx(sqrt(2 - 4 / pi), abs=1e-6)
    assert constants(3).d2 == pytest.approx(3 / sqrt(pi), abs=1e-6)
    assert constants(3).d3 ** 2 == pytest.approx(2 + 3 * sqrt(3) / pi - 9 / pi, abs=1e-6)


def second_moment(size: int) -> float:
    """Returns the mean of the squared range, from the joint density of the least and the greatest of n values."""
    step = 0.05
    places = [index * step for index in range(-160, 161)]
    below = [(1 + erf(place / sqrt(2))) / 2 for place in places]
    density = [exp(-(place**2) / 2) / sqrt(2 * pi) for place in places]
    total = 0.0
    for high in range(len(places)):
        for low in range(high):
            both = density[low] * density[high] * (below[high] - below[low]) ** (size - 2)
            total += (places[high] - places[low]) ** 2 * both
    return size * (size - 1) * step**2 * total


@pytest.mark.parametrize("size", [2, 5, 10, 25])
def test_the_deviation_of_the_range_is_that_of_a_double_integral(size: int) -> None:
    found = constants(size)
    assert found.d3**2 + found.d2**2 == pytest.approx(second_moment(size), abs=1e-4)


@pytest.mark.parametrize("size", SIZES_ALL)
def test_limits_are_three_deviations_away(size: int) -> None:
    found = constants(size)
    assert found.size == size
    assert found.range_lower == pytest.approx(max(0.0, 2 - found.range_upper))
    assert found.mean_limit * sqrt(size) == pytest.approx(found.individual_limit)
    assert found.range_upper - 1 == pytest.approx(found.d3 * found.individual_limit)


@pytest.mark.parametrize("size", [-1, 0, 1, 26, 10**6])
def test_a_size_that_no_table_has_is_stopped(size: int) -> None:
    with pytest.raises(ValueError, match="2 to 25"):
        constants(size)


def test_a_printed_constant_has_three_decimals() -> None:
    assert printed(constants(2).d2) == Fraction("1.128")
    assert printed(constants(5).range_upper) == Fraction("2.114")
