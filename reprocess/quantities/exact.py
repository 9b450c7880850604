"""Exact numbers: how they are compared with a limit and how they are cut for display.

A limit is judged on the unrounded number. Rounding belongs to the screen, and its direction is
chosen by name, so that a shown number never claims more than was measured.
"""

from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import TypeAlias

Exact: TypeAlias = int | Decimal | Fraction
"""A finite number without rounding error. A float is not one of these."""


def exactly(value: Exact) -> Fraction:
    """Returns the same number as a fraction.

    Raises:
        ValueError, OverflowError: the decimal is not finite.
    """
    return Fraction(value)


def at_least(value: Exact, least: Exact) -> bool:
    """Returns whether the unrounded value reaches the limit; equality counts as met."""
    return exactly(value) >= exactly(least)


def at_most(value: Exact, most: Exact) -> bool:
    """Returns whether the unrounded value stays within the limit; equality counts as met."""
    return exactly(value) <= exactly(most)


def require(sentence: str, *, holds: bool) -> None:
    """Stops arithmetic on a quantity that cannot exist; whoever read it should have asked again.

    Raises:
        ValueError: with that sentence, unless it holds.
    """
    if not holds:
        raise ValueError(sentence)


def is_finite(value: Exact) -> bool:
    """Returns whether the value is a number at all; a decimal can be infinite or none."""
    return not isinstance(value, Decimal) or value.is_finite()


def within(value: Exact, bounds: tuple[Exact, Exact], what: str) -> Fraction:
    """Returns the value as a fraction if it is finite and in the range, bounds included.

    Raises:
        ValueError: it is not; `what` begins the sentence.
    """
    lowest, highest = bounds
    sentence = f"{what} must lie between {lowest} and {highest}."
    require(sentence, holds=is_finite(value) and lowest <= value <= highest)
    return exactly(value)


def rounded_down(value: Exact, places: int) -> Decimal:
    """Returns the value cut towards minus infinity, for showing beside a least limit.

    `places` counts decimals and is not negative.
    """
    return _placed(floor(exactly(value) * 10**places), places)


def rounded_up(value: Exact, places: int) -> Decimal:
    """Returns the value raised towards plus infinity, for showing beside a greatest limit.

    `places` counts decimals and is not negative.
    """
    return _placed(ceil(exactly(value) * 10**places), places)


def _placed(units: int, places: int) -> Decimal:
    # Built from text, because decimal arithmetic would round to the precision of its context.
    return Decimal(f"{units}E-{places}")
