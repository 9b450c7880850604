"""A device label is understood as a whole, or asked again for a reason that can be shown."""

import re
from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reprocess.scan import hibc
from reprocess.scan.code import Unreadable, read_code
from reprocess.scan.device_label import read_device_label
from reprocess.scan.gs1 import SEPARATOR
from reprocess.scan.identifier import DeviceIdentifier, LabelFault, Standard, UnreadableLabel
from reprocess.scan.label_dates import calendar_day, full_year, last_day, numbered_day

THIS_YEAR = 2026
DEVICE = "0151022222233336"
NEAR_DAYS = st.dates(date(THIS_YEAR - 49, 1, 1), date(THIS_YEAR + 50, 12, 31))
BLOCKS = st.text(alphabet="0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1)
GS1_ALPHABET = "".join(map(chr, range(33, 127))).translate({ord(each): None for each in "#$@[\\]^`{|}~"})
GS1_VALUES = st.text(alphabet=GS1_ALPHABET, min_size=1, max_size=20)


def answer(scanned: str) -> DeviceIdentifier | UnreadableLabel:
    return read_device_label(scanned, this_year=THIS_YEAR)


def fault(scanned: str) -> LabelFault | None:
    found = answer(scanned)
    return found.fault if isinstance(found, UnreadableLabel) else None


def sealed(payload: str) -> str:
    return payload + hibc.check_character(payload)


def day_text(day: date | None) -> str:
    return "" if day is None else f"{day:%y%m%d}"


# What is printed is read back.


@given(st.none() | NEAR_DAYS, st.none() | NEAR_DAYS, st.none() | GS1_VALUES, st.none() | GS1_VALUES)
def test_a_gs1_label_is_read_back(made: date | None, expires: date | None, lot: str | None, serial: str | None) -> None:
    fields = [("11", day_text(made)), ("17", day_text(expires)), ("10", lot), ("21", serial)]
    text = DEVICE + "".join(f"{name}{value}{SEPARATOR}" for name, value in fields if value)
    found = DeviceIdentifier(Standard.GS1, DEVICE[2:], lot, serial, None, made, expires)
    assert answer(text.removesuffix(SEPARATOR)) == found
    assert answer("]d2" + text.removesuffix(SEPARATOR)) == found


@given(
    st.from_regex(r"[A-Z][0-9A-Z]{3}[0-9A-Z]{1,18}[0-9]", fullmatch=True).filter(str.isascii),
    NEAR_DAYS,
    st.none() | BLOCKS.map(lambda text: text[:18]),
    st.none() | BLOCKS.map(lambda text: text[:18]),
    st.none() | st.dates(date(1, 1, 1)),
)
def test_a_hibc_label_is_read_back(
    device: str, expires: date, lot: str | None, serial: str | None, made: date | None
) -> None:
    payload = f"+{device}/$$3{day_text(expires)}{lot or ''}"
    payload += f"/S{serial}" if serial else ""
    payload += f"/16D{made.year:04}{made:%m%d}" if made else ""
    assert answer(sealed(payload)) == DeviceIdentifier(Standard.HIBC, device, lot, serial, None, made, expires)


@given(
    st.text(alphabet="0123456789ABCXYZ", min_size=16, max_size=16),
    st.text(alphabet="0123456789ABCXYZ", min_size=18, max_size=18),
    st.dates(date(1900, 1, 1), date(2099, 12, 31)),
)
def test_an_isbt_128_label_is_read_back(device: str, lot: str, expires: date) -> None:
    century = "9" if expires.year < 2000 else "0"
    text = f"=/{device}=>{century}{expires:%y%j}&,1{lot}"
    assert answer(text) == DeviceIdentifier(Standard.ISBT_128, device, lot, expires=expires)


# Every string has an answer.

PIECES = [
    *("(01)51022222233336", DEVICE, "]d2", "]C1", "]", "+A99912345", "/$$5", "/16D", "/S", "=/A9999XYZ100T0944", "=,"),
    *("=>014032", "&,1", "=", "(", ")", "17", "270600", "10", "21", "99", "8005", "3103", "391", "710", "00", " ", "+"),
    *(SEPARATOR, "\n", "\x00", "\u0665", "A", "0"),
]


@given(
    st.text() | st.lists(st.sampled_from(PIECES), max_size=12).map("".join) | st.text(alphabet="01()+=/$&,]d2\x1d9A")
)
@example("]")
@example("]d2")
@example("+")
@example("(")
@example("()")
@example("=")
@example(SEPARATOR)
def test_any_text_is_a_label_or_is_refused_for_a_reason(scanned: str) -> None:
    found = answer(scanned)
    if isinstance(found, UnreadableLabel):
        assert found.reason.endswith(".")
        assert found.echo.isascii()
        assert found.echo.isprintable()
        assert len(found.echo) <= 24
    else:
        assert found.device
        assert scanned.isascii()


@given(st.text(max_size=128), st.integers(min_value=1, max_value=9999))
def test_no_year_of_reading_makes_it_fail(rest: str, this_year: int) -> None:
    for start in ("(01)51022222233336(17)", f"{DEVICE}17", "+A99912345/$$5"):
        read_device_label(start + rest, this_year=this_year)


@given(st.data())
def test_one_wrong_character_in_a_hibc_label_is_always_noticed(data: st.DataObject) -> None:
    text = sealed("+A99912345/$$52001510X3/16D20111212/S77DEFG45")
    place = data.draw(st.integers(min_value=1, max_value=len(text) - 1))
    wrong = data.draw(st.sampled_from(hibc.ALPHABET.replace(text[place], "")))
    assert fault(text[:place] + wrong + text[place + 1 :]) is LabelFault.WRONG_CHECK_CHARACTER


@given(st.integers(min_value=2, max_value=15), st.integers(min_value=1, max_value=9))
def test_one_wrong_digit_in_a_gs1_item_number_is_always_noticed(place: int, more: int) -> None:
    wrong = str((int(DEVICE[place]) + more) % 10)
    assert fault(DEVICE[:place] + wrong + DEVICE[place + 1 :]) is LabelFault.WRONG_CHECK_CHARACTER


# Each reason.


DAMAGED = [
    ("", LabelFault.EMPTY),
    ("]d2", LabelFault.EMPTY),
    ("0" * 129, LabelFault.TOO_LONG),
    ("(01)51022222233336\n", LabelFault.STRANGE_CHARACTER),
    ("01\N{ARABIC-INDIC DIGIT FIVE}1022222233336", LabelFault.STRANGE_CHARACTER),
    ("BLW-0041", LabelFault.UNKNOWN_STANDARD),
    ("I:BLW-0041.W", LabelFault.UNKNOWN_STANDARD),
    ("]C0" + DEVICE, LabelFault.UNKNOWN_STANDARD),
    ("]E09501101530003", LabelFault.UNKNOWN_STANDARD),
    ("(17)270601", LabelFault.NO_DEVICE),
    ("(02)51022222233336(37)5", LabelFault.NO_DEVICE),
    ("(01)5102222223333", LabelFault.MALFORMED),
    ("(1)5102222223333", LabelFault.MALFORMED),
    ("(01)51022222233336(10)", LabelFault.MALFORMED),
    ("(01)51022222233336(10)A(B(21)7", LabelFault.MALFORMED),
    ("(01)51022222233336 (10)A", LabelFault.MALFORMED),
    ("(01)51022222233336(10)A#", LabelFault.MALFORMED),
    ("(01)51022222233336(05)A", LabelFault.MALFORMED),
    ("]d2(01)51022222233336", LabelFault.MALFORMED),
    (f"{DEVICE}10{SEPARATOR}21A", LabelFault.MALFORMED),
    (f"{DEVICE}10A{SEPARATOR}{SEPARATOR}21B", LabelFault.MALFORMED),
    (f"{DEVICE}10A{SEPARATOR}", LabelFault.MALFORMED),
    (f"{DEVICE}10{'A' * 21}", LabelFault.MALFORMED),
    (f"{DEVICE}{{GS}}10A", LabelFault.MALFORMED),
    ("]d2+A123BJC5D6E71G", LabelFault.MALFORMED),
    ("(01)51022222233336(01)51022222233336", LabelFault.REPEATED),
    (f"{DEVICE}10A{SEPARATOR}10B", LabelFault.REPEATED),
    ("(01)51022222233335", LabelFault.WRONG_CHECK_CHARACTER),
    ("(01)51022222233336(17)271301", LabelFault.MALFORMED),
    ("(01)51022222233336(17)270230", LabelFault.NO_SUCH_DAY),
    ("(01)51022222233336(17)270000", LabelFault.NO_SUCH_DAY),
    ("(01)51022222233336(11)270229(17)280229", LabelFault.NO_SUCH_DAY),
    ("+", LabelFault.MALFORMED),
    ("+a123bjc5d6e71g", LabelFault.MALFORMED),
    ("+A123BJC5D6E71", LabelFault.WRONG_CHECK_CHARACTER),
    (sealed("+$$52001510X3G"), LabelFault.NO_DEVICE),
    (sealed("+05271L"), LabelFault.NO_DEVICE),
    (sealed("+/EO523201"), LabelFault.MALFORMED),
    (sealed("+A1231"), LabelFault.MALFORMED),
    (sealed("+A123BJC5D6E7A"), LabelFault.MALFORMED),
    (sealed("+A123BJC5D6E7123456789012"), LabelFault.MALFORMED),
    (sealed("+A99912345/"), LabelFault.MALFORMED),
    (sealed("+A99912345/$"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$7"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$8052713C001"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$5ABCDE3C001"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$50527"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$3231031ABCDEFGHIJKLMNOPQRS"), LabelFault.MALFORMED),
    (sealed("+A99912345/$$3231031ABC%"), LabelFault.MALFORMED),
    (sealed("+A99912345/$10X3/17D20111231"), LabelFault.MALFORMED),
    (sealed("+A99912345/$10X3/16D2011123"), LabelFault.MALFORMED),
    (sealed("+A99912345/$10X3/16D20110229"), LabelFault.NO_SUCH_DAY),
    (sealed("+A99912345/$$5200003C001"), LabelFault.NO_SUCH_DAY),
    (sealed("+A99912345/$$5193663C001"), LabelFault.NO_SUCH_DAY),
    (sealed("+A99912345/$$4200228243C001"), LabelFault.NO_SUCH_DAY),
    (sealed("+A99912345/$$13203C001"), LabelFault.NO_SUCH_DAY),
    (sealed("+A99912345/$$52001510X3/14D20200115"), LabelFault.REPEATED),
    (sealed("+A99912345/$+0001/S0001"), LabelFault.REPEATED),
    ("=,000025", LabelFault.NO_DEVICE),
    ("=/A9999XYZ100T094", LabelFault.MALFORMED),
    ("=/A9999XYZ100T0944=>01403", LabelFault.MALFORMED),
    ("=/A9999XYZ100T0944&,100000000000XYZ123", LabelFault.MALFORMED),
    ("=/A9999XYZ100T0944 =,000025", LabelFault.MALFORMED),
    ("=/A9999XYZ100T0944=,000025=,000025", LabelFault.REPEATED),
    ("=/A9999XYZ100T0944=)1TE123456A", LabelFault.REPEATED),
    ("=/A9999XYZ100T0944=>014366", LabelFault.NO_SUCH_DAY),
    ("=/A9999XYZ100T0944=>514032", LabelFault.NO_SUCH_DAY),
]


@pytest.mark.parametrize(("scanned", "expected"), DAMAGED, ids=ascii)
def test_a_damaged_label_is_asked_again(scanned: str, expected: LabelFault) -> None:
    assert fault(scanned) is expected


def test_every_reason_has_been_seen_and_has_a_sentence() -> None:
    assert {expected for _, expected in DAMAGED} == set(LabelFault)
    assert all(re.fullmatch(r"[A-Z].*\.", UnreadableLabel(each, "").reason) for each in LabelFault)


def test_a_separator_that_was_left_out_lengthens_the_lot() -> None:
    found = answer(f"{DEVICE}10A213B1211234")
    assert isinstance(found, DeviceIdentifier)
    assert (found.lot, found.serial) == ("A213B1211234", None)


def test_other_known_fields_are_passed_over_and_the_earlier_expiry_counts() -> None:
    found = answer("(01)51022222233336(240)X-7(7003)2706011230(17)270701")
    assert isinstance(found, DeviceIdentifier)
    assert found.expires == date(2027, 6, 1)


@pytest.mark.parametrize(
    "scanned", ["(01)51022222233336", "]d2" + DEVICE, "+A123BJC5D6E71G", "=/A9999XYZ100T0944", "&)RZ12345678"]
)
def test_a_makers_label_is_never_taken_for_one_of_our_tags(scanned: str) -> None:
    found = read_code(scanned)
    assert isinstance(found, Unreadable)
    assert found.reason == "That is the maker's own label; scan our tag on the same part."


# Days.


@given(st.integers(min_value=0, max_value=99), st.integers(min_value=1950, max_value=2150))
def test_two_digits_are_the_only_such_year_in_the_window(two_digits: int, this_year: int) -> None:
    year = full_year(two_digits, this_year)
    assert year % 100 == two_digits
    assert -49 <= year - this_year <= 50


@given(st.dates())
def test_a_day_is_found_again_by_its_number(day: date) -> None:
    assert numbered_day(day.year, int(f"{day:%j}")) == day
    assert calendar_day(day.year, day.month, day.day) == day


@pytest.mark.parametrize(
    ("year", "month", "expected"),
    [(2024, 2, 29), (2023, 2, 28), (2000, 2, 29), (2100, 2, 28), (2026, 12, 31), (9999, 12, 31)],
)
def test_the_last_day_of_a_month(year: int, month: int, expected: int) -> None:
    assert last_day(year, month) == date(year, month, expected)


def test_there_is_no_such_day() -> None:
    for month in (0, 13):
        assert last_day(2026, month) is None
    for number in (0, 366, 400):
        assert numbered_day(2026, number) is None
    assert numbered_day(0, 1) is None
    assert numbered_day(9999, 365) == date(9999, 12, 31)
