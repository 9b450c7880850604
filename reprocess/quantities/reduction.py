"""Log reductions: how many organisms are left, and what a CT table says. Advice only.

A log reduction, a percentage killed and a share of survivors are one thing in three notations; the
exact share of survivors is what is kept. CT is concentration times time, in mg min/L.

No contact time is ever computed from these; the label governs. Nothing in `rules` or `engine`
reads this module.

Source: log10(N0 / N). CT as linear in the log reduction, and parts of one exposure that add up: 40 CFR
141.534. Reading a table on the safe side: US EPA 815-R-20-003 (June 2020).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum, unique
from fractions import Fraction
from math import floor, log10

from reprocess.quantities.dilution import Strength
from reprocess.quantities.exact import Exact, exactly, require, rounded_down

LOG10_MAX = 100
"""No test sees so many powers of ten. Our own choice."""

AXES_MAX = 6
"""A printed table has fewer headings. Our own choice."""

_PERCENT_WHOLE = 100
_TENTHS = 10


@dataclass(frozen=True, slots=True)
class Reduction:
    """How much of a population was killed, as the share that survived; `at_least` where none was found.

    Raises:
        ValueError: the share is not above 0 and at most 1.
    """

    surviving: Fraction
    at_least: bool = False

    def __post_init__(self) -> None:
        if not Fraction(1, 10**LOG10_MAX) <= self.surviving <= 1:
            sentence = f"A share of survivors is at most 1 and at least 1 in 10 to the power of {LOG10_MAX}."
            raise ValueError(sentence)

    @property
    def log10(self) -> float:
        """Returns the powers of ten by which the population fell; at least so many where none was found."""
        # `abs` turns the minus zero of no reduction at all into zero.
        return abs(log10(self.surviving.denominator) - log10(self.surviving.numerator))

    @property
    def percent(self) -> Fraction:
        """Returns the percentage killed, exactly."""
        return (1 - self.surviving) * _PERCENT_WHOLE

    def reaches(self, powers: int) -> bool:
        """Returns whether the unrounded reduction is so many powers of ten; equality counts as met."""
        return self.surviving * Fraction(10) ** powers <= 1

    def survivors(self, before: Exact) -> Fraction:
        """Returns how many of so many are left.

        Raises:
            ValueError: there were less than none.
        """
        require("A count cannot be less than zero.", holds=exactly(before) >= 0)
        return exactly(before) * self.surviving

    @property
    def text(self) -> str:
        """Returns the powers of ten, cut to a decimal, such as `5.9`, or `>=5.0` where none was found."""
        tenths = floor(self.log10 * _TENTHS)
        # The logarithm may round up to a tenth that was not reached, so exact numbers have the last word.
        if self.surviving**_TENTHS * Fraction(10) ** tenths > 1:
            tenths -= 1
        return f"{'>=' if self.at_least else ''}{rounded_down(Fraction(tenths, _TENTHS), 1)}"


def counted(before: Exact, after: Exact, *, detection_limit: Exact) -> Reduction:
    """Returns the reduction from one count to another; below the detection limit it is at least that much.

    Raises:
        ValueError: the count before or the limit is not above zero, more are left than there were, or the
            reduction is more than any test sees.
    """
    start, left, limit = exactly(before), exactly(after), exactly(detection_limit)
    require("A reduction needs a count and a detection limit above zero.", holds=start > 0 and limit > 0)
    require("A count cannot be less than zero.", holds=left >= 0)
    require("More are left than there were; count again.", holds=left <= start)
    if left < limit:
        return Reduction(min(limit / start, Fraction(1)), at_least=True)
    return Reduction(left / start)


def powers_of_ten(powers: Exact) -> Reduction:
    """Returns the reduction by so many powers of ten, from 0; exact for a whole number.

    Raises:
        ValueError: the number is negative or too large.
    """
    number = exactly(powers)
    require(f"A reduction is 0 to {LOG10_MAX} powers of ten.", holds=0 <= number <= LOG10_MAX)
    whole = number.numerator // number.denominator
    return Reduction(Fraction(10 ** float(whole - number)) / 10**whole)


def percent_killed(percent: Exact) -> Reduction:
    """Returns the reduction that kills this percentage, from 0 and below 100.

    Raises:
        ValueError: the percentage lies outside; 100 would be a reduction without end.
    """
    killed = exactly(percent)
    require("A percentage killed is 0 or more and less than 100.", holds=0 <= killed < _PERCENT_WHOLE)
    return Reduction(1 - killed / _PERCENT_WHOLE)


def concentration_time(strength: Strength, minutes: Exact) -> Fraction:
    """Returns CT, in mg min/L, of a strength that stays as it is for so many minutes.

    Raises:
        ValueError: the time is negative.
    """
    require("A time cannot be less than zero.", holds=exactly(minutes) >= 0)
    return strength.mg_per_l * exactly(minutes)


def scaled(ct: Exact, *, printed_for: Exact, wanted: Exact) -> Fraction:
    """Returns the CT for another log reduction than the printed one, as CT is linear in it.

    Raises:
        ValueError: the CT is negative, or a log reduction is not above zero.
    """
    require("A CT cannot be less than zero.", holds=exactly(ct) >= 0)
    require("A log reduction to scale to is above zero.", holds=exactly(printed_for) > 0 and exactly(wanted) > 0)
    return exactly(ct) * exactly(wanted) / exactly(printed_for)


def added_up(ratios: Iterable[Exact], *, printed_for: Exact) -> Fraction:
    """Returns the log reduction of parts of one exposure, each as the CT it had over the CT printed for it.

    Raises:
        ValueError: a ratio is negative, or the printed log reduction is not above zero.
    """
    shares = [exactly(ratio) for ratio in ratios]
    require("A ratio of two CT cannot be less than zero.", holds=all(share >= 0 for share in shares))
    require("A printed log reduction is above zero.", holds=exactly(printed_for) > 0)
    return sum(shares, Fraction(0)) * exactly(printed_for)


@unique
class SafeSide(Enum):
    """To which printed value a heading is read when the bath lies between two of them."""

    LOWER = "lower"
    """A colder bath kills more slowly: read a temperature down."""
    HIGHER = "higher"
    """Chlorine works more slowly at a higher pH: read a pH up."""


@dataclass(frozen=True, slots=True)
class Heading:
    """One heading of a printed table: its name with its unit, its printed values, rising, and the safe side.

    Raises:
        ValueError: the values do not rise, or there is none.
    """

    name: str
    printed: tuple[Fraction, ...]
    safe: SafeSide

    def __post_init__(self) -> None:
        rising = sorted(set(self.printed)) == list(self.printed)
        require(f"The printed values of {self.name} must rise.", holds=rising and bool(self.printed))

    def read(self, value: Exact) -> Fraction:
        """Returns the printed value on the safe side of this one, or itself where it is printed.

        Raises:
            ValueError: no value is printed on the safe side; a table is never read past its edge.
        """
        wanted = exactly(value)
        if self.safe is SafeSide.LOWER:
            safe = [one for one in self.printed if one <= wanted][-1:]
        else:
            safe = [one for one in self.printed if one >= wanted][:1]
        require(f"The table prints no {self.name} on the safe side of {value}.", holds=bool(safe))
        return safe[0]


@dataclass(frozen=True, slots=True)
class CtTable:
    """A printed table of CT, in mg min/L, for one organism, one agent and one log reduction.

    `cells` holds one CT for each combination of the printed values, in the order of the headings.

    Raises:
        ValueError: a cell is missing or too many, a CT is not above zero, or there are too many headings.
    """

    headings: tuple[Heading, ...]
    cells: Mapping[tuple[Fraction, ...], Fraction]
    printed_for: int

    def __post_init__(self) -> None:
        require(f"A table has 1 to {AXES_MAX} headings.", holds=0 < len(self.headings) <= AXES_MAX)
        wanted: set[tuple[Fraction, ...]] = {()}
        for heading in self.headings:
            wanted = {(*earlier, value) for earlier in wanted for value in heading.printed}
        require("A table has a CT for each combination of its headings.", holds=set(self.cells) == wanted)
        require("A printed CT is above zero.", holds=all(ct > 0 for ct in self.cells.values()))
        require("A table is printed for a log reduction above zero.", holds=self.printed_for > 0)

    def on_the_safe_side(self, *at: Exact) -> Fraction:
        """Returns the CT of the printed row and column on the safe side of each value; nothing is interpolated.

        Raises:
            ValueError: the values are not one for each heading, or one lies past the edge of the table.
        """
        require("A table is read with one value for each heading.", holds=len(at) == len(self.headings))
        return self.cells[tuple(heading.read(value) for heading, value in zip(self.headings, at, strict=True))]
