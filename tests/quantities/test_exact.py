"""Limits are judged on exact numbers; rounding goes one way, and the way is named."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.exact import at_least, at_most, rounded_down, rounded_up


def test_equality_meets_both_limits() -> None:
    assert at_least(Decimal("1.50"), Fraction(3, 2))
    assert at_most(Decimal("1.50"), Fraction(3, 2))


def test_a_hair_less_is_less_however_many_digits_it_takes_to_see() -> None:
    hair = Fraction(1, 10**60)
    assert not at_least(6 - hair, 6)
    assert not at_most(6 + hair, 6)


@pytest.mark.parametrize(
    ("value", "places", "down", "up"),
    [
        (Fraction(100, 7), 1, "14.2", "14.3"),
        (Fraction(-1, 3), 2, "-0.34", "-0.33"),
        (Decimal("99.96"), 1, "99.9", "100.0"),
        (105, 0, "105", "105"),
        (Fraction(10**40, 3), 1, "3" * 40 + ".3", "3" * 40 + ".4"),
    ],
)
def test_rounding_goes_the_way_its_name_says(value: int | Decimal | Fraction, places: int, down: str, up: str) -> None:
    assert f"{rounded_down(value, places):f}" == down
    assert f"{rounded_up(value, places):f}" == up


@given(st.fractions(), st.integers(min_value=0, max_value=12))
def test_a_rounded_number_is_less_than_one_unit_of_its_last_place_away(value: Fraction, places: int) -> None:
    unit = Fraction(1, 10**places)
    assert 0 <= value - Fraction(rounded_down(value, places)) < unit
    assert 0 <= Fraction(rounded_up(value, places)) - value < unit
