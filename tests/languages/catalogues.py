"""The catalogues as their files stand, read anew for the tests."""

from __future__ import annotations

import re
import string
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

import reprocess

PACKAGE = Path(reprocess.__file__).parent
LANGUAGES = PACKAGE / "languages"
OTHERS = ("es", "ar")
FACES = ("shared", "sign-in", "bench", "bench-screen", "board", "calibration", "hatch")
"""The areas of the faces that people work at."""
COMPLETE = (*FACES, "papers", "words", "reasons")
"""The areas that stand in every language; the others fall back to English."""
ARABIC = re.compile(r"[\u0621-\u064a]")


@cache
def read(language: str, area: str) -> Catalog:
    """Returns one file, empty where the language has none."""
    path = LANGUAGES / language / f"{area}.po"
    if not path.is_file():
        return Catalog(language)
    with path.open("rb") as content:
        return read_po(content, locale=language, abort_invalid=True)


def areas(language: str) -> list[str]:
    """Returns the areas that a language has."""
    return sorted(path.stem for path in (LANGUAGES / language).glob("*.po"))


def complete() -> list[str]:
    """Returns the areas that English has and that must be whole in every language."""
    return [area for area in COMPLETE if area in areas("en")]


def key_of(message: Message) -> str:
    """Returns a message's key."""
    return message.id if isinstance(message.id, str) else message.id[0]


def forms_of(message: Message) -> tuple[str, ...]:
    """Returns a message's texts: one, or those of a plural."""
    found: str | Sequence[str] = message.string or ""
    return (found,) if isinstance(found, str) else tuple(found)


def texts(language: str, area: str) -> dict[str, tuple[str, ...]]:
    """Returns the texts of one file by key."""
    return {key_of(one): forms_of(one) for one in read(language, area) if one.id}


def whole(language: str) -> dict[str, tuple[str, ...]]:
    """Returns the texts of a language by key."""
    return {key: forms for area in areas(language) for key, forms in texts(language, area).items()}


def places(text: str) -> set[str]:
    """Returns the names of the places of a text.

    Raises:
        ValueError: a brace stands alone, or a place has no name or more than a name.
    """
    found = set()
    for _, name, form, conversion in string.Formatter().parse(text):
        if name is None:
            continue
        if not re.fullmatch(r"[a-z][a-z0-9_]*", name) or form or conversion:
            message = f"a place is a plain name, not {{{name}}}"
            raise ValueError(message)
        found.add(name)
    return found


def longest(text: str) -> int:
    """Returns how many words the longest sentence of a text has; a place, or a command, counts as one."""
    plain = re.sub(r"`[^`]*`|\{[^}]*\}", "x", text)
    return max(len(re.findall(r"\w[^\s]*", one)) for one in re.split(r"[.!?؟]\s", plain + " "))
