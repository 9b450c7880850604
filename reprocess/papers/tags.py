"""Tags: a code with its id in large letters, the check character and what it is; for A4 sheets and for label rolls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from reprocess.errors import WrongUseError
from reprocess.languages import Text, Texts
from reprocess.papers.letters import fitting, printable
from reprocess.papers.sheets import ENGLISH, Sheet, Size, Tag, Tags, code_of, must_be_few, spoken
from reprocess.scan.code import ItemTag, StationTag

TAGS_MOST: Final = 600
"""Tags of one file at most (our choice)."""
SIZES: Final[Mapping[str, Size]] = MappingProxyType(
    {
        one.name: one
        for one in (
            Size("a4", width=64, height=44, across=3, symbol_most=30, letters_most=18),
            Size("50x30", width=50, height=30, across=1, symbol_most=19, letters_most=16),
            Size("25x15", width=25, height=15, across=1, symbol_most=10, letters_most=9),
        )
    }
)
"""Sizes of tags by name, width by height (our choice): cut from an A4 sheet, or one tag a page of a roll."""
STATION: Final = Size("station", width=96, height=66, across=2, symbol_most=44, letters_most=20)
"""A place is scanned from further away, so its code is larger (our choice)."""
SLIP: Final = Size("slip", width=96, height=52, across=2, symbol_most=30, letters_most=18)
"""Room for boxes that a gloved hand fills in (our choice)."""
LETTERS_LEAST: Final = 5
"""The smallest letters of an id in points, about 1.3 mm high (our choice: read at the length of an arm)."""
MARGIN_MM: Final = 1
"""The white margin of a tag."""


def tag_sheet(
    items: Sequence[str],
    *,
    kinds: Mapping[str, str] | None = None,
    size: str = "a4",
    language: str = ENGLISH,
    banner: Sequence[str] = (),
) -> Sheet:
    """Returns item tags.

    Args:
        items: their ids.
        kinds: what each item is, as far as it is known.
        size: one of `SIZES`.
        language: of the words on them.
        banner: keys of what must stand on them.

    Raises:
        WrongUseError: there are none or too many, one stands twice, is no id or too long for the size.
    """
    if size not in SIZES:
        message = f"The sizes of tags are {', '.join(SIZES)}."
        raise WrongUseError(message)
    texts = spoken(language)
    must_be_few(items, TAGS_MOST, "tags")
    made = Tags(_items(texts, items, SIZES[size], kinds or {}), SIZES[size], {})
    return Sheet(texts("papers.tags.title"), texts("papers.tags.foot"), language, made, banners(texts, banner))


def slip_sheet(
    items: Sequence[str],
    *,
    kinds: Mapping[str, str] | None = None,
    language: str = ENGLISH,
    banner: Sequence[str] = (),
) -> Sheet:
    """Returns slips that go with items while the record is out of reach: from when to when wet, and who saw it.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or is no id.
    """
    texts = spoken(language)
    must_be_few(items, TAGS_MOST, "slips")
    boxes = {name: texts(f"papers.slip.{name}") for name in ("wet-from", "wet-until", "who", "second", "form", "line")}
    made = Tags(_items(texts, items, SLIP, kinds or {}), SLIP, boxes)
    return Sheet(texts("papers.slips.title"), texts("papers.slips.foot"), language, made, banners(texts, banner))


def station_sheet(
    stations: Sequence[str],
    *,
    titles: Mapping[str, str] | None = None,
    language: str = ENGLISH,
    banner: Sequence[str] = (),
) -> Sheet:
    """Returns the codes of places where work is done.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or is no id.
    """
    texts = spoken(language)
    must_be_few(stations, TAGS_MOST, "stations")
    told = titles or {}
    tags = tuple(_tag(texts, StationTag(one, checked=True), STATION, _text(told.get(one))) for one in stations)
    foot = texts("papers.stations.foot")
    return Sheet(texts("papers.stations.title"), foot, language, Tags(tags, STATION, {}), banners(texts, banner))


def banners(texts: Texts, keys: Sequence[str]) -> tuple[Text, ...]:
    """Returns the banners of these names: `demo`, `example`."""
    return tuple(texts(f"shared.{key}") for key in keys)


def _items(texts: Texts, items: Sequence[str], size: Size, kinds: Mapping[str, str]) -> tuple[Tag, ...]:
    named = {one: kind_of(texts, kinds[one]) for one in items if one in kinds}
    return tuple(_tag(texts, ItemTag(one, checked=True), size, named.get(one)) for one in items)


def kind_of(texts: Texts, kind: str) -> Text:
    """Returns what a kind of item is called; its own name where no catalogue knows it."""
    said = texts.known("kind", kind)
    return Text(printable(said), said.language)


def _text(told: str | None) -> Text | None:
    return None if told is None else Text(printable(told), ENGLISH)


def _tag(texts: Texts, tag: ItemTag | StationTag, size: Size, kind: Text | None) -> Tag:
    code = code_of(tag)
    letters = fitting(tag.id, size.width - 2 * MARGIN_MM, size.letters_most)
    if letters < LETTERS_LEAST:
        message = f"{tag.id} is too long for a tag of this size; take a larger one."
        raise WrongUseError(message)
    return Tag(tag.id, letters, texts("papers.tag.check", character=code[-1]), kind, code)
