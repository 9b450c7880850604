"""Every key that a page, a paper or a picture names exists, and no text is kept that nothing shows."""

from __future__ import annotations

import re
from functools import cache

import pytest

from tests.languages.catalogues import OTHERS, PACKAGE, areas, complete, texts, whole

SHOWN = ("service", "papers", "pictures")
"""The rooms that show texts."""
SORTED = {"words", "reasons"}
"""Areas whose keys are put together from a sort and a name; `test_words` and `test_reasons` look at them."""
FILES = {"html", "js", "css", "svg", "po", "py", "typ", "json"}
STORED = {"bench.pixels-per-mm", "bench.quiet", "bench.scanner"}
"""Names under which a browser keeps its settings; they are no texts."""
AREAS = [area for area in areas("en") if area not in SORTED]
NAME = rf"(?:{'|'.join(AREAS)})\."


@cache
def sources() -> str:
    """Returns the code and the templates that show texts."""
    found = [path for room in SHOWN for path in sorted((PACKAGE / room).rglob("*"))]
    return "\n".join(path.read_text(encoding="utf-8") for path in found if path.suffix in {".py", ".html", ".js"})


@cache
def written() -> frozenset[str]:
    """Returns every text that stands in quotation marks and looks like a key."""
    found = re.findall(rf"[\"']({NAME}[A-Za-z0-9.-]*[A-Za-z0-9])[\"'](?!\s*~)", sources())
    return frozenset(one for one in found if one.rpartition(".")[2] not in FILES) - STORED


@cache
def sorts() -> frozenset[str]:
    """Returns what is written out and stands before the names of a sort, such as `board.family`."""
    known = {**whole("en"), **whole(OTHERS[0])}  # the English of some sorts stands where they are made
    return frozenset(one for one in written() if one not in known and any(key.startswith(f"{one}.") for key in known))


def keys() -> frozenset[str]:
    """Returns every key that is written out."""
    return written() - sorts()


@cache
def beginnings() -> frozenset[str]:
    """Returns what keys begin with where the rest is put behind it."""
    made = re.findall(rf"f[\"']({NAME}[A-Za-z0-9.-]*){{", sources())
    joined = re.findall(rf"[\"']({NAME}[A-Za-z0-9.-]*)[\"']\s*~", sources())
    return frozenset([*made, *joined, *(f"{one}." for one in sorts())])


def test_every_key_that_is_written_out_exists() -> None:
    assert keys()
    assert sorted(keys() - set(whole("en"))) == []


def test_every_beginning_leads_to_a_key() -> None:
    known = {**whole("en"), **whole(OTHERS[0])}
    assert [one for one in sorted(beginnings()) if not any(key.startswith(one) for key in known)] == []


@pytest.mark.parametrize("area", AREAS)
def test_no_text_is_kept_that_nothing_shows(area: str) -> None:
    used = keys() | {key for key in texts("en", area) if key.startswith(tuple(beginnings()))}
    assert sorted(set(texts("en", area)) - used) == []


def test_every_sort_that_is_asked_for_has_words() -> None:
    asked = set(re.findall(r"\bknown\(\s*[\"']([a-z-]+)[\"']", sources()))
    assert sorted(asked - {key.partition(".")[0] for key in texts("en", "words")}) == []


@pytest.mark.parametrize("language", OTHERS)
def test_what_a_face_shows_stands_in_every_language(language: str) -> None:
    mine = {key for area in complete() for key in texts("en", area)}
    assert sorted((keys() & mine) - set(whole(language))) == []
