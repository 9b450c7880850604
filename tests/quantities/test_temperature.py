"""Degrees are converted without rounding, there and back."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.exact import at_most
from reprocess.quantities.temperature import celsius_from_fahrenheit, fahrenheit_from_celsius


def test_water_freezes_and_boils_on_both_scales() -> None:
    assert celsius_from_fahrenheit(32) == 0
    assert celsius_from_fahrenheit(212) == 100


@given(st.decimals(allow_nan=False, allow_infinity=False, places=3))
def test_there_and_back_is_the_same_number(celsius: Fraction) -> None:
    assert celsius_from_fahrenheit(fahrenheit_from_celsius(celsius)) == celsius


def test_110_fahrenheit_is_not_within_a_limit_of_43_celsius() -> None:
    assert not at_most(celsius_from_fahrenheit(110), 43)
