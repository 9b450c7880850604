"""Device labels in ISBT 128, the standard of ICCBBA for medical products of human origin.

    =/A9999XYZ100T0944=,000025=A99971312345600=>014032=}013032&,1000000000000XYZ123

Each field starts with its own sign and has a fixed length, so nothing can be cut short unnoticed.
The scanned text holds no check character.

Source: US FDA, UDI formats by FDA-accredited issuing agency, version 1.3 of 27 January 2017. That
the first digit of a day is the century, 0 for 20xx and 9 for 19xx: from memory.
"""

import re
from datetime import date

from reprocess.scan.identifier import DeviceIdentifier, LabelFault, Standard
from reprocess.scan.label_dates import numbered_day

_FIELD = re.compile(
    r"=/(?P<device>[0-9A-Z]{16})"
    r"|=\)(?P<container>[0-9A-Z]{10})"
    r"|=,(?P<serial>[0-9A-Z]{6})"
    r"|=>(?P<expires>\d{6})"
    r"|=\}(?P<manufactured>\d{6})"
    r"|&,1(?P<lot>[0-9A-Z]{18})"
    r"|&\)(?P<container_lot>[0-9A-Z]{10})"
    r"|=(?P<donation>[0-9A-Z]{15})",
    re.ASCII,
)
_CENTURIES = {"0": 2000, "9": 1900}


def read_isbt_128(text: str) -> DeviceIdentifier | LabelFault:
    """Returns what the label says, or what is wrong with it. The text is ASCII."""
    fields = _fields(text)
    if isinstance(fields, LabelFault):
        return fields
    if "device" not in fields:
        return LabelFault.NO_DEVICE
    days = {name: _day(fields[name]) for name in ("manufactured", "expires") if name in fields}
    if None in days.values():
        return LabelFault.NO_SUCH_DAY
    return DeviceIdentifier(
        Standard.ISBT_128,
        fields["device"],
        lot=fields.get("lot"),
        serial=fields.get("serial"),
        donation=fields.get("donation"),
        manufactured=days.get("manufactured"),
        expires=days.get("expires"),
    )


def _fields(text: str) -> dict[str, str] | LabelFault:
    """Returns each field's value by its name; those of blood containers have names of their own."""
    found: dict[str, str] = {}
    place = 0
    while place < len(text):
        match = _FIELD.match(text, place)
        if match is None or match.lastgroup is None:
            return LabelFault.MALFORMED
        name = match.lastgroup.removeprefix("container_").replace("container", "device")
        if name in found:
            return LabelFault.REPEATED
        found[name] = match[match.lastgroup]
        place = match.end()
    return found


def _day(text: str) -> date | None:
    """Returns the day of the century digit, two digits of the year and the day's number in it."""
    century = _CENTURIES.get(text[0])
    return None if century is None else numbered_day(century + int(text[1:3]), int(text[3:]))
