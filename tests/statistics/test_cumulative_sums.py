"""A cumulative sum finds a small lasting shift, on the side on which it lies."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.cumulative_sums import cumulative_sums

values = st.lists(st.none() | st.fractions(-100, 100), min_size=1, max_size=30)
slacks = st.fractions(0, 5)
thresholds = st.fractions("0.1", 50)


@given(values, slacks, thresholds)
def test_a_sum_is_the_worst_run_of_neighbours_up_to_now(
    given_values: list[Fraction | None], slack: Fraction, threshold: Fraction
) -> None:
    sums = cumulative_sums(given_values, target=0, slack=slack, threshold=threshold)
    if sums is None:
        assert all(value is None for value in given_values)
        return
    for place in range(len(given_values)):
        runs = [[v for v in given_values[start : place + 1] if v is not None] for start in range(place + 2)]
        assert sums.high[place] == max(sum((v - slack for v in run), start=Fraction(0)) for run in runs)
        assert sums.low[place] == max(sum((-v - slack for v in run), start=Fraction(0)) for run in runs)
    above = [max(high, low) > threshold for high, low in zip(sums.high, sums.low, strict=True)]
    assert sums.first_signal == (above.index(True) + 1 if True in above else None)


@given(values, slacks, thresholds)
def test_turned_over_the_two_sums_change_places(
    given_values: list[Fraction | None], slack: Fraction, threshold: Fraction
) -> None:
    one = cumulative_sums(given_values, target=0, slack=slack, threshold=threshold)
    turned = [None if value is None else -value for value in given_values]
    other = cumulative_sums(turned, target=0, slack=slack, threshold=threshold)
    assert (one is None) is (other is None)
    if one is not None and other is not None:
        assert (one.high, one.low, one.first_signal) == (other.low, other.high, other.first_signal)


@pytest.mark.parametrize(("last", "signal"), [(3, None), (Fraction("3.001"), 3)])
def test_a_sum_on_the_threshold_is_no_signal(last: int | Fraction, signal: int | None) -> None:
    sums = cumulative_sums([12, None, 10 + last], target=10, slack=1, threshold=3)
    assert sums is not None
    assert sums.high[0] == sums.high[1] == 1
    assert set(sums.low) == {Fraction(0)}
    assert sums.first_signal == signal


def test_nothing_measured_has_no_sums() -> None:
    assert cumulative_sums([], target=0, slack=0, threshold=1) is None
    assert cumulative_sums([None], target=0, slack=0, threshold=1) is None


@pytest.mark.parametrize(
    ("value", "target", "slack", "threshold", "words"),
    [
        (Decimal("NaN"), 0, 0, 1, "finite"),
        (0, Decimal("Infinity"), 0, 1, "finite"),
        (0, 0, -1, 1, "slack of a sum is not less"),
        (0, 0, 0, 0, "threshold of a sum must be more"),
    ],
)
def test_what_cannot_be_is_stopped(
    value: int | Decimal, target: int | Decimal, slack: int, threshold: int, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        cumulative_sums([value], target=target, slack=slack, threshold=threshold)
