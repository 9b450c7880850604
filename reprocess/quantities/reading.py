"""A reading as typed or scanned, turned into a finite decimal number or asked for again.

Only plain digits with one decimal point are read. Everything that two people could read in two
ways (a comma, a unit, an exponent, a leading zero) is asked for again rather than guessed.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum, unique

CHARACTERS_MAX = 64
"""Longer text is not looked at. Our own choice: no reading in the department needs more."""

DIGITS_MAX = 12
"""More digits are a barcode, not a reading. Our own choice."""


@unique
class ReadingFault(StrEnum):
    """What kept a text from being a reading; the values are stored words."""

    EMPTY = "empty"
    TOO_LONG = "too-long"
    CONTROL_CHARACTER = "control-character"
    SPACE = "space"
    NOT_ASCII = "not-ascii"
    COMMA = "comma"
    EXPONENT = "exponent"
    NOT_FINITE = "not-finite"
    NOT_A_NUMBER = "not-a-number"
    TOO_MANY_DIGITS = "too-many-digits"
    LEADING_ZERO = "leading-zero"
    IMPLAUSIBLE = "implausible"


_SENTENCES = {
    ReadingFault.EMPTY: "Nothing was entered; enter the number in {unit}.",
    ReadingFault.TOO_LONG: "That is too long for a reading; enter the number alone, in {unit}.",
    ReadingFault.CONTROL_CHARACTER: "That holds hidden characters; enter the number in {unit}.",
    ReadingFault.SPACE: "Enter the number in {unit} without spaces or a unit.",
    ReadingFault.NOT_ASCII: "Enter the number in {unit} with the plain digits 0 to 9 only.",
    ReadingFault.COMMA: "Write the decimals after a point, not a comma, in {unit}.",
    ReadingFault.EXPONENT: "Write the number in {unit} out in full, without an exponent.",
    ReadingFault.NOT_FINITE: "That is not a measured value; read the instrument again, in {unit}.",
    ReadingFault.NOT_A_NUMBER: "Enter the number alone, in {unit}, without any other signs.",
    ReadingFault.TOO_MANY_DIGITS: "More than 12 digits is not a reading; enter it in {unit}.",
    ReadingFault.LEADING_ZERO: "Enter the number in {unit} without zeros in front.",
}


@dataclass(frozen=True, slots=True)
class BadReading:
    """The answer to a text that is not a reading; `sentence` is for the operator."""

    fault: ReadingFault
    sentence: str


@dataclass(frozen=True, slots=True)
class Plausible:
    """The range in which a reading is believed, bounds included, in the unit named.

    Outside it the reading is a slip of the hand (rule M08). It is not a limit of the process.
    """

    lowest: Decimal
    highest: Decimal
    unit: str


def read_number(text: str, unit: str) -> Decimal | BadReading:
    """Returns the number in the unit asked for, or why the text must be entered again.

    `unit` only completes the sentence; the text itself carries none. What cannot be read is no fact
    yet, so it is asked for again.
    """
    fault = _fault(text)
    if fault is not None:
        return BadReading(fault, _SENTENCES[fault].format(unit=unit))
    number = Decimal(text)
    return number if number else number.copy_abs()


def implausible(number: Decimal, plausible: Plausible) -> BadReading | None:
    """Returns why a number is not believed (rule M08), or None when it is in range."""
    if plausible.lowest <= number <= plausible.highest:
        return None
    return BadReading(
        ReadingFault.IMPLAUSIBLE,
        f"{number:f} {plausible.unit} is outside {plausible.lowest:f} to {plausible.highest:f}; "
        "read the instrument again.",
    )


def _fault(text: str) -> ReadingFault | None:
    """Returns the first thing wrong with the text, coarse before fine."""
    if not text:
        return ReadingFault.EMPTY
    if len(text) > CHARACTERS_MAX:
        return ReadingFault.TOO_LONG
    return _strange_character(text) or _strange_shape(text)


def _strange_character(text: str) -> ReadingFault | None:
    if not text.isascii():
        return ReadingFault.NOT_ASCII
    if not text.isprintable():
        return ReadingFault.CONTROL_CHARACTER
    if " " in text:
        return ReadingFault.SPACE
    if "," in text:
        return ReadingFault.COMMA
    return None


def _strange_shape(text: str) -> ReadingFault | None:
    unsigned = text.removeprefix("-")
    whole, point, decimals = unsigned.partition(".")
    digits = whole + decimals
    if not whole.isdigit() or not digits.isdigit() or (point and not decimals):
        return _strange_word(unsigned.lower())
    if len(digits) > DIGITS_MAX:
        return ReadingFault.TOO_MANY_DIGITS
    if whole.startswith("0") and whole != "0":
        return ReadingFault.LEADING_ZERO
    return None


def _strange_word(unsigned: str) -> ReadingFault:
    if unsigned.removeprefix("+").startswith(("nan", "snan", "inf")):
        return ReadingFault.NOT_FINITE
    before, exponent, after = unsigned.partition("e")
    if exponent and before[:1].isdigit() and after.lstrip("+-").isdigit():
        return ReadingFault.EXPONENT
    return ReadingFault.NOT_A_NUMBER
