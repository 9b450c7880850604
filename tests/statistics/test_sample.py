"""What is no number, or none that could be meant, is stopped with a sentence before anything is computed."""

from decimal import Decimal
from fractions import Fraction
from math import inf, nan

import pytest

from reprocess.statistics.sample import MAGNITUDE_MAX, normal_quantile, number, positive


@pytest.mark.parametrize("value", [Decimal("NaN"), Decimal("Infinity"), Decimal("-Infinity"), Decimal("sNaN")])
def test_what_is_not_finite_is_no_number(value: Decimal) -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        number(value)


@pytest.mark.parametrize(
    "value",
    [MAGNITUDE_MAX + 1, -MAGNITUDE_MAX - 1, Decimal("1e300"), 10**400],
    ids=["a-hair", "a-hair-below-zero", "decimal", "beyond-any-float"],
)
def test_a_number_too_large_to_be_meant_is_stopped(value: int | Decimal) -> None:
    with pytest.raises(ValueError, match="too large to be meant"):
        number(value)


def test_the_largest_number_is_still_one() -> None:
    assert number(MAGNITUDE_MAX) == MAGNITUDE_MAX
    assert number(Decimal("0.1")) == Fraction(1, 10)


def test_what_must_be_above_zero_says_what_it_is() -> None:
    assert positive(1, "A period") == 1
    with pytest.raises(ValueError, match="A period must be more than zero"):
        positive(0, "A period")


# The standard normal table, any textbook: 90 % within 1.6449, 95 % within 1.9600, 99 % within 2.5758.
@pytest.mark.parametrize(("confidence", "deviations"), [(0.90, 1.6449), (0.95, 1.9600), (0.99, 2.5758)])
def test_a_confidence_is_so_many_standard_deviations(confidence: float, deviations: float) -> None:
    assert normal_quantile(confidence) == pytest.approx(deviations, abs=5e-5)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.1, 95.0, inf, nan])
def test_a_confidence_outside_is_none(confidence: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        normal_quantile(confidence)
