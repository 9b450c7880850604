"""A percentile says which definition it is, and never leaves what was observed."""

from decimal import Decimal
from fractions import Fraction
from statistics import median, quantiles

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.percentiles import Definition, percentile

values = st.fractions(min_value=-(10**6), max_value=10**6)
samples = st.lists(values, min_size=1, max_size=30)
shares = st.fractions(min_value=0, max_value=1)
definitions = st.sampled_from(Definition)


def test_nothing_has_no_percentile() -> None:
    for definition in Definition:
        assert percentile([], Fraction(1, 2), definition) is None


@given(samples, shares, definitions)
def test_a_percentile_lies_between_the_least_and_the_most(
    sample: list[Fraction], share: Fraction, definition: Definition
) -> None:
    found = percentile(sample, share, definition)
    assert found is not None
    assert min(sample) <= found <= max(sample)


@given(samples, shares, shares, definitions)
def test_a_larger_share_never_has_a_smaller_percentile(
    sample: list[Fraction], one: Fraction, other: Fraction, definition: Definition
) -> None:
    less, more = (percentile(sample, share, definition) for share in sorted((one, other)))
    assert less is not None
    assert more is not None
    assert less <= more


@given(samples, definitions)
def test_none_and_all_are_the_ends(sample: list[Fraction], definition: Definition) -> None:
    assert percentile(sample, 0, definition) == min(sample)
    assert percentile(sample, 1, definition) == max(sample)


@given(samples, shares)
def test_the_nearest_rank_was_observed_and_enough_lie_at_or_below(sample: list[Fraction], share: Fraction) -> None:
    found = percentile(sample, share, Definition.NEAREST_RANK)
    assert found in sample
    assert sum(value <= found for value in sample) >= share * len(sample)


@given(samples)
def test_a_half_is_the_median(sample: list[Fraction]) -> None:
    assert percentile(sample, Fraction(1, 2), Definition.NIST) == median(sample)
    assert percentile(sample, Fraction(1, 2), Definition.INCLUSIVE) == median(sample)


# Python's own library knows both definitions as "inclusive" and "exclusive"; the latter goes on beyond the ends.
@given(st.lists(values, min_size=2, max_size=30), st.integers(min_value=2, max_value=100))
def test_percentiles_are_those_of_the_standard_library(sample: list[Fraction], parts: int) -> None:
    shares = [Fraction(part, parts) for part in range(1, parts)]
    ours = [percentile(sample, share, Definition.INCLUSIVE) for share in shares]
    assert ours == quantiles(sample, n=parts, method="inclusive")
    theirs = quantiles(sample, n=parts, method="exclusive")
    for share, expected in zip(shares, theirs, strict=True):
        if 1 <= share * (len(sample) + 1) <= len(sample):
            assert percentile(sample, share, Definition.NIST) == expected


# 40th percentile of 15, 20, 35, 40, 50: 20 by the nearest rank.
# Article on percentiles, https://www.liquisearch.com/percentile/alternative_methods (from memory)
def test_a_nearest_rank() -> None:
    assert percentile([35, 20, 15, 50, 40], Decimal("0.4"), Definition.NEAREST_RANK) == 20


@pytest.mark.parametrize("share", [Decimal("-0.01"), Decimal("1.01"), 90])
def test_a_share_outside_is_stopped(share: Decimal | int) -> None:
    with pytest.raises(ValueError, match="from 0 to 1"):
        percentile([1], share, Definition.NIST)


def test_a_value_that_is_no_number_is_stopped() -> None:
    with pytest.raises(ValueError, match="finite"):
        percentile([1, Decimal("NaN")], Fraction(1, 2), Definition.NIST)
