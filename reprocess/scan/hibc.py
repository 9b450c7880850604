"""Device labels in the supplier standard of the health industry (HIBC), device and rest in one code.

    +A99912345/$$52001510X3/16D20111212/S77DEFG457

A plus sign, the labeler (a letter and 3 characters), its catalogue number (1 to 18), the unit of
measure (one digit); after a stroke the expiry day and the lot or serial number; after further
strokes what else the label says; at the end the check character over everything before it.

The two-part form, where the device stands in another code than the lot, is asked again: which
device such a code belongs to would be a guess.

Sources: ANSI/HIBC 2.6, worked examples and Table F1; US FDA, UDI formats by FDA-accredited issuing
agency, 2017, for the lengths. That lot and serial numbers may hold full stops and hyphens: from
memory. That a month means its last day, and which century two digits mean: as for GS1.
"""

import re
from datetime import date
from string import ascii_uppercase, digits

from reprocess.scan.identifier import DeviceIdentifier, LabelFault, Standard
from reprocess.scan.label_dates import calendar_day, full_year, last_day, numbered_day

ALPHABET = digits + ascii_uppercase + "-. $/+%"
"""A character's place is its value (modulus 43)."""

_DEVICE = re.compile(r"[A-Z][0-9A-Z]{3}[0-9A-Z]{1,18}[0-9]", re.ASCII)
_NUMBER = r"(?P<number>[0-9A-Z.-]{0,18})"
_FIRST = tuple(
    re.compile(pattern + _NUMBER, re.ASCII)
    for pattern in (
        r"\$(?P<serial>\+?)",
        r"\$\$(?P<serial>\+?)7",
        r"\$\$(?P<serial>\+?)(?P<month>[01]\d)(?P<year>\d\d)",
        r"\$\$(?P<serial>\+?)2(?P<month>\d\d)(?P<day>\d\d)(?P<year>\d\d)",
        r"\$\$(?P<serial>\+?)3(?P<year>\d\d)(?P<month>\d\d)(?P<day>\d\d)",
        r"\$\$(?P<serial>\+?)4(?P<year>\d\d)(?P<month>\d\d)(?P<day>\d\d)(?P<hour>\d\d)",
        r"\$\$(?P<serial>\+?)5(?P<year>\d\d)(?P<count>\d{3})",
        r"\$\$(?P<serial>\+?)6(?P<year>\d\d)(?P<count>\d{3})(?P<hour>\d\d)",
        r"(?P<year>\d\d)(?P<count>\d{3})",
    )
)
"""The expiry day and the lot number, or with a plus sign the serial number (Table F1)."""

_FURTHER = {
    "serial": re.compile(r"S(?P<value>[0-9A-Z.-]{1,18})", re.ASCII),
    "manufactured": re.compile(r"16D(?P<value>\d{8})", re.ASCII),
    "expires": re.compile(r"14D(?P<value>\d{8})", re.ASCII),
    "quantity": re.compile(r"Q(?P<value>\d{1,5})", re.ASCII),
}
_HOURS = 24


def check_character(payload: str) -> str:
    """Returns the character that the standard puts after the payload, its plus sign included.

    Raises:
        ValueError: the payload holds a character that the standard does not know.
    """
    return ALPHABET[sum(ALPHABET.index(character) for character in payload) % len(ALPHABET)]


def read_hibc(text: str, this_year: int) -> DeviceIdentifier | LabelFault:
    """Returns what the label says, or what is wrong with it. The text is ASCII and starts with `+`."""
    payload, check = text[:-1], text[-1]
    if not set(text) <= set(ALPHABET) or not payload:
        return LabelFault.MALFORMED
    if check != check_character(payload):
        return LabelFault.WRONG_CHECK_CHARACTER
    device, *parts = payload[1:].split("/")
    if device.startswith("$") or device[:1].isdigit():
        return LabelFault.NO_DEVICE
    if not _DEVICE.fullmatch(device):
        return LabelFault.MALFORMED
    fields = _fields(parts, this_year)
    return fields if isinstance(fields, LabelFault) else _identifier(device, fields)


Fields = dict[str, str | date]


def _identifier(device: str, fields: Fields) -> DeviceIdentifier:
    texts = {name: value for name, value in fields.items() if isinstance(value, str)}
    days = {name: value for name, value in fields.items() if isinstance(value, date)}
    return DeviceIdentifier(
        Standard.HIBC,
        device,
        lot=texts.get("lot"),
        serial=texts.get("serial"),
        manufactured=days.get("manufactured"),
        expires=days.get("expires"),
    )


def _fields(parts: list[str], this_year: int) -> Fields | LabelFault:
    """Returns what stands after the device: text, or a day, by its name."""
    found: Fields = {}
    for place, part in enumerate(parts):
        said = _first(part, this_year) if place == 0 else _further(part)
        if isinstance(said, LabelFault):
            return said
        if found.keys() & said.keys():
            return LabelFault.REPEATED
        found |= said
    return found


def _first(part: str, this_year: int) -> Fields | LabelFault:
    matches = [match for match in (pattern.fullmatch(part) for pattern in _FIRST) if match]
    if len(matches) != 1:
        return LabelFault.MALFORMED
    read: dict[str, str] = matches[0].groupdict()
    number: Fields = {"serial" if read.get("serial") else "lot": read["number"]} if read["number"] else {}
    if "year" not in read:
        return number or LabelFault.MALFORMED
    day = _expiry(read, full_year(int(read["year"]), this_year))
    if day is None or int(read.get("hour", "0")) >= _HOURS:
        return LabelFault.NO_SUCH_DAY
    return number | {"expires": day}


def _expiry(read: dict[str, str], year: int) -> date | None:
    if "count" in read:
        return numbered_day(year, int(read["count"]))
    if "day" in read:
        return calendar_day(year, int(read["month"]), int(read["day"]))
    return last_day(year, int(read["month"]))


def _further(part: str) -> Fields | LabelFault:
    for name, pattern in _FURTHER.items():
        match = pattern.fullmatch(part)
        if match is None:
            continue
        value = match["value"]
        if name not in {"manufactured", "expires"}:
            return {name: value}
        day = calendar_day(int(value[:4]), int(value[4:6]), int(value[6:]))
        return {name: day} if day else LabelFault.NO_SUCH_DAY
    return LabelFault.MALFORMED
