"""Device labels in the standard of GS1: element strings, as scanned or as printed for people.

`biip` knows the application identifiers, their lengths and the check digit. The dates are read here,
because biip takes the century from the wall clock.

Where a field of variable length is followed by another, a separator (FNC1, sent as GS, 0x1D) ends
it. A label that leaves it out gives a longer lot or serial number: nothing in the text betrays that.

Sources: GS1 General Specifications; US FDA, UDI formats by FDA-accredited issuing agency, 2017.
"""

from datetime import date

from biip import ParseConfig, ParseError
from biip.checksums import gs1_standard_check_digit
from biip.gs1_messages import GS1Message

from reprocess.scan.identifier import DeviceIdentifier, LabelFault, Standard
from reprocess.scan.label_dates import calendar_day, full_year, last_day

SEPARATOR = "\x1d"

_DEVICE = "01"
_MANUFACTURED = "11"
_LOT = "10"
_SERIAL = "21"
_EXPIRES = ("17", "7003")
"""The last good day; the same with an hour and minute, which are passed over."""

_DAYS = (_MANUFACTURED, *_EXPIRES)
_CONFIG = ParseConfig(gs1_element_strings_verify_date=False, separator_chars=(SEPARATOR,))


def read_gs1(text: str, this_year: int) -> DeviceIdentifier | LabelFault:
    """Returns what the element strings say, or what is wrong with them.

    The text is ASCII. Other known fields may stand among ours and are passed over. Of two expiry
    days the earlier one counts.
    """
    fields = _fields(text)
    if isinstance(fields, LabelFault):
        return fields
    device = fields.get(_DEVICE)
    if device is None:
        return LabelFault.NO_DEVICE
    if int(device[-1]) != gs1_standard_check_digit(device[:-1]):
        return LabelFault.WRONG_CHECK_CHARACTER
    days = {name: _day(fields[name], this_year) for name in _DAYS if name in fields}
    if None in days.values():
        return LabelFault.NO_SUCH_DAY
    return DeviceIdentifier(
        Standard.GS1,
        device,
        lot=fields.get(_LOT),
        serial=fields.get(_SERIAL),
        manufactured=days.get(_MANUFACTURED),
        expires=min((day for name in _EXPIRES if (day := days.get(name)) is not None), default=None),
    )


def _fields(text: str) -> dict[str, str] | LabelFault:
    """Returns each field's value by its application identifier."""
    # biip strips blanks and takes empty fields; both are signs of a damaged scan.
    if " " in text or text.endswith(SEPARATOR) or SEPARATOR * 2 in text:
        return LabelFault.MALFORMED
    printed = text.startswith("(")
    try:
        message = (GS1Message.parse_hri if printed else GS1Message.parse)(text, config=_CONFIG)
    except ParseError:
        return LabelFault.MALFORMED
    # biip drops what it cannot place between two brackets; then the text does not come back whole.
    if printed and message.as_hri() != text:
        return LabelFault.MALFORMED
    fields = {element.ai.ai: element.value for element in message.element_strings}
    return fields if len(fields) == len(message.element_strings) else LabelFault.REPEATED


def _day(text: str, this_year: int) -> date | None:
    """Returns the day of YYMMDD, whatever follows it; day 00 is the last day of the month."""
    year, month, day = full_year(int(text[:2]), this_year), int(text[2:4]), int(text[4:6])
    return calendar_day(year, month, day) if day else last_day(year, month)
