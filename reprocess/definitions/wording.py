"""What a model refuses, in one plain sentence for the person who wrote the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic_core import ErrorDetails

from reprocess.definitions.faults import shown

PATTERNS: Mapping[str, str] = {
    r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$": "small letters and digits, joined by single hyphens, such as `outer-wipe`",
    r"^[a-z][a-z0-9_]*$": "small letters, digits and underscores, such as `flow_l_per_min`",
    r"^[A-Z]+(-[A-Z]+)*$": "capital letters, joined by single hyphens, such as `TUBE-CUT`",
    r"^[A-Z][0-9]{2}$": "a capital letter and two digits, such as `T06`",
}

_Wording = Callable[[str, Mapping[str, Any]], str]

_WORDINGS: Mapping[str, _Wording] = {
    "greater_than": lambda value, said: f"{value} is too little; it must be more than {said['gt']}.",
    "greater_than_equal": lambda value, said: f"{value} is too little; at least {said['ge']}.",
    "less_than": lambda value, said: f"{value} is too much; it must be less than {said['lt']}.",
    "less_than_equal": lambda value, said: f"{value} is too much; at most {said['le']}.",
    "string_too_long": lambda value, said: f"{value} is too long; at most {said['max_length']} characters.",
    "string_too_short": lambda _value, _said: "The text is empty.",
    "string_pattern_mismatch": lambda value, said: f"{value} is not written as {_pattern(said['pattern'])}.",
    "too_short": lambda _value, said: f"The list needs at least {said['min_length']} members.",
    "too_long": lambda _value, said: f"The list has more than {said['max_length']} members.",
    "decimal_max_digits": lambda value, said: f"{value} has more than {said['max_digits']} digits.",
}


def _pattern(pattern: str) -> str:
    return PATTERNS.get(pattern, "this place wants it")


def sentence(error: ErrorDetails) -> str:
    """Returns why the model refused a value or a block."""
    said = error.get("ctx", {})
    if error["type"] == "value_error":
        words = str(said["error"])
        return words[0].upper() + words[1:] + "."
    if error["type"] == "missing":
        return f"The key `{error['loc'][-1]}` is missing."
    wording = _WORDINGS.get(error["type"])
    value = shown(str(error["input"]))
    return wording(value, said) if wording is not None else f"{value} cannot stand here."
