"""One written value to one typed value, by one pattern a type; whatever else it could mean is a fault.

Other tools read `off` as false, `012` as ten, `1:30` as ninety and `1e999` as infinity. Here each is refused with a
sentence that says what to write, so that a text means the same to every reader.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from typing import assert_never

from reprocess.definitions.faults import shown
from reprocess.definitions.nodes import Words, has_hidden_characters
from reprocess.definitions.shapes import Choice, Figure, Flag, Scalar, Text, Whole
from reprocess.terms import DAY_S

_WHOLE = re.compile(r"-?(0|[1-9][0-9]{0,14})")
_FIGURE = re.compile(r"-?(0|[1-9][0-9]{0,14})(\.[0-9]{1,15})?")
_DURATION = re.compile(r"P(?=.)(?:(\d{1,5})D)?(?:T(?=.)(?:(\d{1,6})H)?(?:(\d{1,6})M)?(?:(\d{1,6})S)?)?")
_COMMA = re.compile(r"-?[0-9]+,[0-9]+")
_OTHERWISE = re.compile(
    r"(?P<flag>(?i:y|n|yes|no|on|off|true|false))"
    r"|(?P<nothing>(?i:null)|~)"
    r"|(?P<number>[-+]?\.?[0-9][0-9_.,:]*([eE][-+]?[0-9]*)?|0[xob][0-9a-fA-F_]*|[-+]?(?i:\.inf|\.nan|nan|inf))"
    r"|(?P<date>[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}([Tt ].*)?)"
)


@dataclass(frozen=True, slots=True)
class Wrong:
    """Says why a written value is not what is wanted there."""

    sentence: str


def converted(key: str, words: Words, wanted: Scalar) -> str | bool | int | Decimal | Wrong:
    """Returns the typed value of what was written under a key, or what is wrong with it."""
    if not words.text and words.style == "plain":
        return Wrong("A key without a value; write one, or leave the key out.")
    match wanted:
        case Text():
            return _text(words)
        case Choice():
            return _choice(words, wanted)
        case Flag():
            return _flag(words)
        case Whole():
            return _whole(key, words)
        case Figure():
            return _figure(words)
        case _:
            assert_never(wanted)


def _text(words: Words) -> str | Wrong:
    if has_hidden_characters(words.text):
        return Wrong("The text holds a line break or a hidden character; write it on one line, or after `>-`.")
    other = _OTHERWISE.fullmatch(words.text) if words.style == "plain" else None
    if other is None:
        return words.text
    readings = {
        "flag": "true or false",
        "nothing": "nothing at all",
        "number": "a number",
        "date": "a date",
    }
    said = readings[str(other.lastgroup)] if other.lastgroup in readings else "something else"
    return Wrong(
        f"{shown(words.text)} without quotation marks reads as {said} elsewhere; "
        "use another word, or put it in quotation marks."
    )


def _choice(words: Words, wanted: Choice) -> str | Wrong:
    if words.text in wanted.values:
        return wanted.values[words.text]
    near = get_close_matches(words.text[:40], wanted.values, n=1)
    known = ", ".join(f"`{one}`" for one in wanted.values)
    meant = f"; the nearest one is `{near[0]}`." if near else "."
    return Wrong(f"{shown(words.text)} is not one of {known}{meant}")


def _flag(words: Words) -> bool | Wrong:
    if words.style == "plain" and words.text in {"true", "false"}:
        return words.text == "true"
    return Wrong(f"{shown(words.text)} is neither `true` nor `false`, without quotation marks.")


def _whole(key: str, words: Words) -> int | Wrong:
    text = words.text
    if words.style == "plain" and _WHOLE.fullmatch(text):
        return int(text)
    if words.style != "plain" and _WHOLE.fullmatch(text):
        return Wrong(f"{shown(text)} stands in quotation marks; write the number without them.")
    seconds = _seconds(text) if key.endswith("_s") else None
    if seconds is not None:
        return Wrong(f"{shown(text)} is a duration; write whole seconds: {seconds}.")
    unit = " of seconds" if key.endswith("_s") else ""
    return Wrong(f"{shown(text)} is not a whole number{unit}, such as `180`.")


def _seconds(text: str) -> int | None:
    match = _DURATION.fullmatch(text)
    if match is None:
        return None
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return days * DAY_S + hours * 3600 + minutes * 60 + seconds


def _figure(words: Words) -> Decimal | Wrong:
    text = words.text
    if words.style == "plain" and _FIGURE.fullmatch(text):
        return Decimal(text)
    if words.style != "plain" and _FIGURE.fullmatch(text):
        return Wrong(f"{shown(text)} stands in quotation marks; write the number without them.")
    if _COMMA.fullmatch(text):
        return Wrong(f"{shown(text)} has a decimal comma; write it with a point.")
    return Wrong(f"{shown(text)} is not a decimal number, such as `0.55`.")
