"""A reading is a plain decimal number, or it is asked for again in one sentence."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.reading import (
    BadReading,
    Plausible,
    ReadingFault,
    implausible,
    read_number,
)

CELSIUS = "degrees Celsius"


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("20.5", "20.5"),
        ("-3", "-3"),
        ("170", "170"),
        ("0", "0"),
        ("0.05", "0.05"),
        ("-0.5", "-0.5"),
        ("-0", "0"),
        ("-0.00", "0.00"),
        ("123456789012", "123456789012"),
        ("12345678901.2", "12345678901.2"),
    ],
)
def test_a_plain_number_is_read_digit_by_digit(text: str, number: str) -> None:
    assert str(read_number(text, CELSIUS)) == number


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", ReadingFault.EMPTY),
        ("20,5", ReadingFault.COMMA),
        ("1,000", ReadingFault.COMMA),
        ("68 F", ReadingFault.SPACE),
        (" 20", ReadingFault.SPACE),
        ("20 ", ReadingFault.SPACE),
        ("20 °C", ReadingFault.NOT_ASCII),
        ("\N{MINUS SIGN}3", ReadingFault.NOT_ASCII),
        ("\N{FULLWIDTH DIGIT TWO}\N{FULLWIDTH DIGIT ZERO}", ReadingFault.NOT_ASCII),
        ("\N{ARABIC-INDIC DIGIT TWO}", ReadingFault.NOT_ASCII),
        ("\N{SUPERSCRIPT TWO}", ReadingFault.NOT_ASCII),
        ("20\n", ReadingFault.CONTROL_CHARACTER),
        ("2\x000", ReadingFault.CONTROL_CHARACTER),
        ("\t20", ReadingFault.CONTROL_CHARACTER),
        ("20\x1d", ReadingFault.CONTROL_CHARACTER),
        ("NaN", ReadingFault.NOT_FINITE),
        ("-nan", ReadingFault.NOT_FINITE),
        ("sNaN", ReadingFault.NOT_FINITE),
        ("inf", ReadingFault.NOT_FINITE),
        ("+Infinity", ReadingFault.NOT_FINITE),
        ("1e999", ReadingFault.EXPONENT),
        ("1e3", ReadingFault.EXPONENT),
        ("1.5E-3", ReadingFault.EXPONENT),
        ("68F", ReadingFault.NOT_A_NUMBER),
        ("20mg/L", ReadingFault.NOT_A_NUMBER),
        ("+5", ReadingFault.NOT_A_NUMBER),
        ("--5", ReadingFault.NOT_A_NUMBER),
        ("-", ReadingFault.NOT_A_NUMBER),
        (".", ReadingFault.NOT_A_NUMBER),
        (".5", ReadingFault.NOT_A_NUMBER),
        ("5.", ReadingFault.NOT_A_NUMBER),
        ("1.2.3", ReadingFault.NOT_A_NUMBER),
        ("1_000", ReadingFault.NOT_A_NUMBER),
        ("0x10", ReadingFault.NOT_A_NUMBER),
        ("BLW-0041", ReadingFault.NOT_A_NUMBER),
        ("element", ReadingFault.NOT_A_NUMBER),
        ("05", ReadingFault.LEADING_ZERO),
        ("00", ReadingFault.LEADING_ZERO),
        ("1234567890123", ReadingFault.TOO_MANY_DIGITS),
        ("1.234567890123", ReadingFault.TOO_MANY_DIGITS),
        ("9" * 65, ReadingFault.TOO_LONG),
        ("9" * 10_000_000, ReadingFault.TOO_LONG),
    ],
    ids=lambda value: ascii(value[:20]) if isinstance(value, str) else None,
)
def test_what_two_people_could_read_in_two_ways_is_asked_for_again(text: str, fault: ReadingFault) -> None:
    answer = read_number(text, CELSIUS)
    assert isinstance(answer, BadReading)
    assert answer.fault is fault


def test_every_sentence_is_one_sentence_and_names_the_unit() -> None:
    for text in ("", "9" * 65, "20\n", "20 ", "\N{DEGREE SIGN}", "2,5", "1e3", "nan", "x", "05"):
        answer = read_number(text, CELSIUS)
        assert isinstance(answer, BadReading)
        assert answer.sentence.count(".") == 1
        assert CELSIUS in answer.sentence


@given(st.text() | st.text(alphabet="0123456789.-+eE, "))
def test_any_text_has_an_answer_and_a_number_is_finite_and_shows_the_same_digits(
    text: str,
) -> None:
    answer = read_number(text, CELSIUS)
    if isinstance(answer, BadReading):
        return
    assert answer.is_finite()
    assert f"{answer:f}".lstrip("-") == text.lstrip("-")


@given(st.decimals(min_value=-999_999, max_value=999_999, places=3))
def test_a_number_written_out_is_read_back(number: Decimal) -> None:
    assert read_number(f"{number:f}", CELSIUS) == number


def test_a_plausible_range_includes_its_bounds_and_nothing_beyond() -> None:
    charge = Plausible(Decimal(0), Decimal(100), "%")
    assert implausible(Decimal(0), charge) is None
    assert implausible(Decimal(100), charge) is None
    slip = implausible(Decimal("100.01"), charge)
    assert slip is not None
    assert slip.fault is ReadingFault.IMPLAUSIBLE
    assert slip.sentence == "100.01 % is outside 0 to 100; read the instrument again."
