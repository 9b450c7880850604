"""Options that several commands share, and where a command takes its department, station and badge from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reprocess.errors import WrongUseError

DepartmentOption = Annotated[
    Path | None,
    typer.Option("--department", "-d", help="The department's file or address; REPROCESS_DEPARTMENT; department.db."),
]
StationOption = Annotated[
    str | None, typer.Option("--station", help="The station; REPROCESS_STATION; the first one on record.")
]
BadgeOption = Annotated[str | None, typer.Option("--as", help="The badge of the person acting; REPROCESS_BADGE.")]
SecondOption = Annotated[str | None, typer.Option("--with", help="The badge of a second person.")]
KeyOption = Annotated[str | None, typer.Option("--key", help="The request's key: repeated, it records nothing anew.")]
ShownOption = Annotated[
    str | None,
    typer.Option("--shown", help="The digest of what was shown; refused when that changed since (12 digits or more)."),
]
OverrideOption = Annotated[
    str | None,
    typer.Option("--override", help="Pass over this rule for this one request, where it may be; --why says why."),
]
BecauseOption = Annotated[
    str | None, typer.Option("--because", help="For --override: the code of the reason; `--because ?` names the codes.")
]
OverUntilOption = Annotated[str | None, typer.Option("--over-until", help="For --override: the last day it counts.")]
ReferenceOption = Annotated[
    str | None, typer.Option("--reference", help="For --override: the statement it rests on, or its file's digest.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON on standard output.")]


def readable(text: str) -> str:
    """Returns the id that a typed or scanned text means.

    Raises:
        WrongUseError: the text cannot be read; the sentence says why.
    """
    from reprocess.scan.code import Unreadable, read_code

    code = read_code(text)
    if isinstance(code, Unreadable):
        message = f"{code.reason} (seen: {code.echo})" if code.echo else code.reason
        raise WrongUseError(message)
    return code.id


def pairs(given: list[str] | None, what: str) -> dict[str, str]:
    """Returns `name=value` words as a mapping.

    Raises:
        WrongUseError: a word is not `name=value`, or a name stands twice.
    """
    found: dict[str, str] = {}
    for word in given or []:
        name, sign, value = word.partition("=")
        if not sign or not name or len(word) > 200:
            message = f"A {what} is written name=value, not {word[:40]!r}."
            raise WrongUseError(message)
        if name in found:
            message = f"The {what} {name} was given twice."
            raise WrongUseError(message)
        found[name] = value
    return found


def whole_numbers(given: list[str] | None) -> dict[str, int]:
    """Returns `name=number` words as a mapping to whole numbers from 0 to 9999.

    Raises:
        WrongUseError: a value is not such a number.
    """
    found: dict[str, int] = {}
    for name, value in pairs(given, "count").items():
        if not (value.isascii() and value.isdigit() and len(value) <= 4):
            message = f"The count {name} is a whole number from 0 to 9999, not {value[:20]!r}."
            raise WrongUseError(message)
        found[name] = int(value)
    return found
