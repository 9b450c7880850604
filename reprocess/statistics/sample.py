"""What a statistic may be computed from: finite numbers of a believable size, and a level of confidence."""

from collections.abc import Iterable
from fractions import Fraction
from statistics import NormalDist

from reprocess.quantities.exact import Exact, exactly, require

MAGNITUDE_MAX = 10**18
"""A larger number is a slip: three hundred centuries are fewer microseconds. Our own choice."""


def number(value: Exact) -> Fraction:
    """Returns the same number as a fraction.

    Raises:
        ValueError: it is not finite, or too large to be meant.
    """
    try:
        fraction = exactly(value)
    except (ValueError, OverflowError) as error:
        sentence = f"{value} is not a finite number."
        raise ValueError(sentence) from error
    if abs(fraction) > MAGNITUDE_MAX:
        sentence = f"A number beyond {MAGNITUDE_MAX:.0e} is too large to be meant; check its unit."
        raise ValueError(sentence)
    return fraction


def numbers(values: Iterable[Exact]) -> tuple[Fraction, ...]:
    """Returns the same numbers as fractions, in the same order.

    Raises:
        ValueError: one of them is not finite, or too large to be meant.
    """
    return tuple(number(value) for value in values)


def positive(value: Exact, what: str) -> Fraction:
    """Returns the same number as a fraction.

    Raises:
        ValueError: it is not above zero; `what` begins the sentence.
    """
    fraction = number(value)
    require(f"{what} must be more than zero.", holds=fraction > 0)
    return fraction


def mean(values: tuple[Fraction, ...]) -> Fraction:
    """Returns the arithmetic mean of at least one number."""
    return sum(values, start=Fraction(0)) / len(values)


def normal_quantile(confidence: float) -> float:
    """Returns how many standard deviations to each side hold this share of a normal distribution; 0.95 gives 1.96.

    Raises:
        ValueError: the confidence does not lie between 0 and 1.
    """
    require("A confidence lies between 0 and 1, both excluded.", holds=0 < confidence < 1)
    return -NormalDist().inv_cdf((1 - confidence) / 2)
