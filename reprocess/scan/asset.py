"""The id of one part in a code of GS1: of a model and a serial number, or of an individual asset.

Application identifiers: (01) with (21) names one part of a model, (8004) is a global individual asset identifier
(GIAI), (7023) that of an assembly. Source: GS1 General Specifications, section 3, "GS1 Application Identifiers".
"""

from __future__ import annotations

import re

from biip import ParseConfig, ParseError
from biip.gs1_messages import GS1Message

from reprocess.scan.code import ItemTag, Unreadable, read_code
from reprocess.scan.device_label import read_device_label
from reprocess.scan.gs1 import SEPARATOR
from reprocess.scan.identifier import UnreadableLabel

_ASSETS = ("8004", "7023")
_CONFIG = ParseConfig(gs1_element_strings_verify_date=False, separator_chars=(SEPARATOR,))
_PREFIX = 3
_BARE = re.compile(r"01[0-9]{14}|(8004|7023)[0-9]{7}")
"""How element strings begin when a scanner sends them without saying what they are: with a whole GTIN, or with the
seven digits that a company's prefix has at least."""


def read_part(text: str, *, this_year: int) -> ItemTag | str:
    """Returns the part that a text names: our own id or tag, or a code of GS1; or why it names none, as a sentence.

    Of a model with a serial number the id is both, joined by a hyphen; of an asset it is the asset's own.
    """
    ours = read_code(text)
    standard = text.startswith(("(", "]")) or _BARE.match(text) is not None
    if isinstance(ours, ItemTag) and not standard:
        return ours
    if not standard:
        return ours.reason if isinstance(ours, Unreadable) else "That is not the tag of an item."
    found = _asset(text) or _model_and_serial(text, this_year)
    if found is None:
        return "That code names a model and no single part."
    tag = read_code(f"I:{found.upper()}")
    return tag if isinstance(tag, ItemTag) else "The id in that code is not one that our tags can carry."


def _asset(text: str) -> str | None:
    body = text[_PREFIX:] if text.startswith("]") else text
    try:
        message = (GS1Message.parse_hri if body.startswith("(") else GS1Message.parse)(body, config=_CONFIG)
    except ParseError:
        return None
    return next((one.value for one in message.element_strings if one.ai.ai in _ASSETS), None)


def _model_and_serial(text: str, this_year: int) -> str | None:
    label = read_device_label(text, this_year=this_year)
    if isinstance(label, UnreadableLabel) or label.serial is None:
        return None
    return f"{label.device}-{label.serial}"
