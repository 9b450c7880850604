"""Degrees Fahrenheit and Celsius, converted exactly.

A limit is kept in one unit and converted once. 43 degrees Celsius and 110 degrees Fahrenheit are
printed side by side as if they were equal, and they are not.

Source: 29 CFR 1910.134 Appendix B-2 (OSHA), step B, prints that pair.
"""

from fractions import Fraction

from reprocess.quantities.exact import Exact, exactly

_FREEZING_F = 32
_CELSIUS_PER_FAHRENHEIT = Fraction(5, 9)


def celsius_from_fahrenheit(fahrenheit: Exact) -> Fraction:
    """Returns the degrees Celsius that equal these degrees Fahrenheit, without rounding."""
    return (exactly(fahrenheit) - _FREEZING_F) * _CELSIUS_PER_FAHRENHEIT


def fahrenheit_from_celsius(celsius: Exact) -> Fraction:
    """Returns the degrees Fahrenheit that equal these degrees Celsius, without rounding."""
    return exactly(celsius) / _CELSIUS_PER_FAHRENHEIT + _FREEZING_F
