"""A chart flags what lies outside its limits and nothing else, and never draws across a gap."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import isfinite, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.control_charts import (
    Chart,
    c_chart,
    individuals_chart,
    means_chart,
    moving_ranges,
    p_chart,
    u_chart,
)

values = st.lists(st.none() | st.integers(-50, 50) | st.fractions(-(10**6), 10**6), max_size=30)
counts = st.lists(st.integers(0, 40), max_size=30)
groups = st.integers(2, 10).flatmap(
    lambda size: st.lists(st.none() | st.lists(st.integers(0, 100), min_size=size, max_size=size), max_size=12)
)
counted_of = st.lists(
    st.integers(0, 60).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))), min_size=1, max_size=30
)


def assert_can_be_drawn(chart: Chart, least: float | None = None, most: float | None = None) -> None:
    for point in chart.points:
        if point is None:
            continue
        assert isfinite(point.lower)
        assert isfinite(point.upper)
        assert point.lower <= float(chart.centre) <= point.upper
        assert least is None or least <= point.lower
        assert most is None or point.upper <= most
        # The rounded limits may only differ from the exact judgement on the limit itself.
        if all(abs(limit - point.value) > 1e-9 * (1 + abs(float(point.value))) for limit in (point.lower, point.upper)):
            assert point.beyond is not (point.lower <= point.value <= point.upper)


def places(chart: Chart) -> list[bool]:
    return [point is not None for point in chart.points]


@given(values)
def test_a_moving_range_needs_both_its_neighbours(given_values: list[int | Fraction | None]) -> None:
    ranges = moving_ranges(given_values)
    assert len(ranges) == len(given_values)
    assert not ranges or ranges[0] is None
    for (before, after), found in zip(pairwise(given_values), ranges[1:], strict=True):
        assert found == (None if before is None or after is None else abs(after - before))


@given(values)
def test_a_chart_of_individuals_has_a_point_for_every_value_and_a_gap_for_every_gap(
    given_values: list[int | Fraction | None],
) -> None:
    chart = individuals_chart(given_values)
    if chart is None:
        assert all(before is None or after is None for before, after in pairwise(given_values))
        return
    assert places(chart.values) == [value is not None for value in given_values]
    assert places(chart.ranges) == [each is not None for each in moving_ranges(given_values)]
    assert_can_be_drawn(chart.values)
    assert_can_be_drawn(chart.ranges, least=0)


def test_values_that_never_change_leave_no_room_and_none_is_beyond() -> None:
    chart = individuals_chart([7, 7, 7])
    assert chart is not None
    assert [(point.lower, point.upper) for point in chart.values.points if point] == [(7, 7)] * 3
    assert chart.values.beyond == chart.ranges.beyond == ()


def test_a_jump_is_flagged_by_its_number() -> None:
    steady = [10, 11] * 10
    chart = individuals_chart([*steady, None, 10, 40, 11])
    assert chart is not None
    assert chart.values.beyond == (23,)
    assert chart.ranges.beyond == (23, 24)


# A mean range of 47 puts the limits 3 * 47 / 1.128 = 125 from the middle, which is 23.5 with and without the last two.
@pytest.mark.parametrize(("further", "beyond"), [(Fraction(0), ()), (Fraction(1, 10**30), (4, 6))])
def test_on_the_limit_is_inside_and_a_hair_further_is_beyond(further: Fraction, beyond: tuple[int, ...]) -> None:
    chart = individuals_chart([0, 47, None, Fraction("148.5") + further, None, Fraction("-101.5") - further])
    assert chart is not None
    assert chart.values.centre == Fraction("23.5")
    assert chart.ranges.centre == 47
    assert chart.values.beyond == beyond


@given(groups)
def test_a_chart_of_means_has_a_point_for_every_subgroup(given_groups: list[list[int] | None]) -> None:
    chart = means_chart(given_groups)
    if chart is None:
        assert not any(given_groups)
        return
    assert places(chart.values) == places(chart.ranges) == [group is not None for group in given_groups]
    for group, point in zip(given_groups, chart.values.points, strict=True):
        assert group is None or (point is not None and point.value == Fraction(sum(group), len(group)))
    assert_can_be_drawn(chart.values)
    assert_can_be_drawn(chart.ranges, least=0)


@pytest.mark.parametrize(
    ("subgroups", "words"),
    [([[1, 2], [1, 2, 3]], "same size"), ([[1], [2]], "2 to 25"), ([[]], "2 to 25"), ([[0] * 26], "2 to 25")],
)
def test_subgroups_that_no_range_serves_are_stopped(subgroups: list[list[int]], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        means_chart(subgroups)


@given(counts)
def test_a_chart_of_counts_is_one_of_rates_with_one_unit_each(given_counts: list[int]) -> None:
    chart = c_chart(given_counts)
    assert chart == u_chart(given_counts, [1] * len(given_counts))
    if chart is None:
        assert not given_counts
        return
    assert chart.centre == Fraction(sum(given_counts), len(given_counts))
    assert_can_be_drawn(chart, least=0)


def test_a_day_without_a_count_is_a_gap_and_not_a_zero() -> None:
    chart = c_chart([4, None, 6])
    assert chart is not None
    assert chart.centre == 5
    assert places(chart) == [True, False, True]
    assert c_chart([None, None]) is None


# A mean share of 0.1 has a deviation of 0.03 in samples of 100, so limits of 0.01 and 0.19 that no float holds.
@pytest.mark.parametrize(("met", "beyond"), [((19, 1, 10), ()), ((20, 0, 10), (1, 2))])
def test_a_share_on_its_limit_is_inside(met: tuple[int, ...], beyond: tuple[int, ...]) -> None:
    chart = p_chart(met, [100] * 3)
    assert chart is not None
    assert chart.beyond == beyond


# Montgomery and Runger, Applied Statistics and Probability for Engineers, section 15-6, exercise 41: a mean fraction of
# 0.0645 has limits of 0.0455 and 0.0835 in samples of 1500, and of 0 and 0.1382 in samples of 100.
# https://questionai.com/amp/textbooksolution-120656/4558-book-Applied-Statistics-and-Probability-for-Engineers-book-Attribute-Control-Charts
@pytest.mark.parametrize(
    ("defective", "size", "lower", "upper"), [(1935, 1500, 0.0455, 0.0835), (129, 100, 0.0, 0.1382)]
)
def test_limits_of_shares_in_print(defective: int, size: int, lower: float, upper: float) -> None:
    counted = [defective // 20 + (place < defective % 20) for place in range(20)]
    chart = p_chart(counted, [size] * 20)
    assert chart is not None
    assert chart.centre == Fraction("0.0645")
    assert chart.points[0] is not None
    assert (chart.points[0].lower, chart.points[0].upper) == pytest.approx((lower, upper), abs=5e-5)


@given(counted_of)
def test_a_chart_of_shares_stays_from_none_to_all_and_leaves_out_shares_of_nothing(
    pairs: list[tuple[int, int]],
) -> None:
    chart = p_chart([met for met, _ in pairs], [of for _, of in pairs])
    if chart is None:
        assert not any(of for _, of in pairs)
        return
    assert places(chart) == [of > 0 for _, of in pairs]
    assert 0 <= chart.centre <= 1
    assert_can_be_drawn(chart, least=0, most=1)


@given(counted_of)
def test_the_limits_of_a_larger_sample_are_never_wider(pairs: list[tuple[int, int]]) -> None:
    chart = p_chart([met for met, _ in pairs], [of for _, of in pairs])
    points = (
        []
        if chart is None
        else [(of, point.upper - point.lower) for (_, of), point in zip(pairs, chart.points, strict=True) if point]
    )
    for (smaller, wide), (larger, narrow) in pairwise(sorted(points)):
        assert smaller == larger or narrow <= wide + 1e-12


def test_shares_that_are_all_met_have_no_room_and_none_is_beyond() -> None:
    chart = p_chart([5, 9], [5, 9])
    assert chart is not None
    assert chart.beyond == ()
    assert [(point.lower, point.upper) for point in chart.points if point] == [(1.0, 1.0)] * 2


@given(counts, st.data())
def test_a_chart_of_rates_weighs_by_what_was_looked_at(given_counts: list[int], data: st.DataObject) -> None:
    sizes = data.draw(
        st.lists(st.fractions("0.1", 50), min_size=len(given_counts), max_size=len(given_counts)), label="units"
    )
    chart = u_chart(given_counts, sizes)
    if chart is None:
        assert not sizes
        return
    assert chart.centre == Fraction(sum(given_counts)) / sum(sizes)
    for size, point in zip(sizes, chart.points, strict=True):
        assert point is not None
        assert point.upper == pytest.approx(float(chart.centre) + 3 * sqrt(chart.centre / size))
    assert_can_be_drawn(chart, least=0)


@pytest.mark.parametrize(
    ("given_counts", "sizes", "words"),
    [
        ([1], [1, 2], "one size for each"),
        ([1, 2], [5], "one size for each"),
        ([-1], [5], "less than no times"),
        ([0], [-5], "not less than none|No more"),
        ([6], [5], "No more"),
    ],
)
def test_counts_and_sizes_that_cannot_be_are_stopped(given_counts: list[int], sizes: list[int], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        p_chart(given_counts, sizes)


@pytest.mark.parametrize(
    ("given_counts", "sizes", "words"),
    [([1], [0], "nothing was looked at"), ([0], [-1], "not less than none"), ([1], [Decimal("NaN")], "finite")],
)
def test_units_that_cannot_be_are_stopped(given_counts: list[int], sizes: Sequence[int], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        u_chart(given_counts, sizes)


def test_a_value_that_is_no_number_is_stopped() -> None:
    with pytest.raises(ValueError, match="finite"):
        individuals_chart([1, Decimal("NaN"), 2])
