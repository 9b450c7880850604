"""What a picture is, before and after it is drawn, and the frame in which it is made."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, Literal

from reprocess.languages import Texts, texts_of
from reprocess.rules.answer import Fact

Spec = dict[str, Any]
"""A description in Vega-Lite's JSON, or a part of one."""
Cells = tuple[str, ...]
Missing = Literal["extra", "failed", "large", "busy"]
"""Why there is no drawing: the extra is not installed, it could not be drawn, it has too many marks to be read, or too
many others are being drawn just now."""

MARKS_MOST: Final = 600
"""Marks of one picture at most; beyond that the table alone is shown (our choice: more cannot be told apart)."""
LABEL_MOST: Final = 26
TEXT_MOST: Final = 200
_UNSEEN: Final = frozenset({"Cc", "Cs", "Cn", "Zl", "Zp"})
_TURNING: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Embeddings, overrides and isolates (Unicode Standard Annex 9, table 4): they would reorder what stands around."""
_KEY: Final = re.compile(r"[a-z][a-z0-9-]{0,39}")


@dataclass(frozen=True, slots=True)
class Frame:
    """Is in what a picture is made.

    Attributes:
        texts: the language.
        zone: the site's time zone.
        key: with what the ids of this picture begin; each picture of one page has another.

    Raises:
        ValueError: the key cannot begin an id.
    """

    texts: Texts
    zone: str
    key: str

    def __post_init__(self) -> None:
        if not _KEY.fullmatch(self.key):
            message = f"{self.key!r} cannot begin an id: small letters, digits and hyphens."
            raise ValueError(message)

    def word(self, key: str, **facts: Fact) -> str:
        """Returns the text of a key, without what tells its language."""
        return str(self.texts(f"pictures.{key}", **facts))

    def known(self, sort: str, name: str) -> str:
        """Returns what something of a known sort is called; its own name where unknown."""
        return plain(str(self.texts.known(sort, name)))


@dataclass(frozen=True, slots=True)
class Plot:
    """Is a picture that is not drawn yet.

    Attributes:
        key: with what its ids begin.
        language: the tag of the language that it is in.
        spec: its Vega-Lite description.
        title: its name, a few words.
        alt: what it shows, in sentences.
        caption: how it is read, in sentences.
        columns: the heads of the table beside it.
        rows: the table's rows, one for each mark.
        marks: how many marks it has.
    """

    key: str
    language: str
    spec: Spec
    title: str
    alt: str
    caption: str
    columns: Cells
    rows: tuple[Cells, ...]
    marks: int


@dataclass(frozen=True, slots=True)
class Picture:
    """Is a picture with everything that says the same as it.

    Attributes:
        svg: the drawing, ready to stand in a page; None where there is none.
        missing: why there is none.
        language: the tag of the language that it is in.
    """

    svg: str | None
    missing: Missing | None
    language: str
    title: str
    alt: str
    caption: str
    columns: Cells
    rows: tuple[Cells, ...]


def frame_in(texts: Texts, zone: str, key: str) -> Frame:
    """Returns the frame of a picture in a language, or in English where the language has no texts for pictures."""
    return Frame(texts if texts.has("pictures.table") else texts_of("en"), zone, key)


def plain(text: str) -> str:
    """Returns a text of unknown origin as a drawing can show it.

    What has no shape, what XML cannot hold and what turns the direction of writing becomes U+FFFD; at most 200
    characters are kept.
    """
    shown = text[:TEXT_MOST]
    return "".join("\ufffd" if one in _TURNING or unicodedata.category(one) in _UNSEEN else one for one in shown)


def short(text: str, most: int = LABEL_MOST) -> str:
    """Returns a text as a label: at most that many characters, the last one an ellipsis where some are left out."""
    clean = plain(text)
    return clean if len(clean) <= most else f"{clean[: most - 1]}…"


def tell(cells: Iterable[str]) -> str:
    """Returns a row of the table as the words of its mark."""
    return " · ".join(one for one in cells if one)


def sentences(parts: Iterable[str]) -> str:
    """Returns sentences one after the other."""
    return " ".join(one for one in parts if one)
