"""Sheets and labels over HTTP: PDF/A whose codes read back, for who may read items, within the caller's sites."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from reprocess.engine import request as asking
from reprocess.languages import LANGUAGES
from tests.service.hall import Hall, floor, hall, prepared
from tests.service.staff import token

__all__ = ["floor", "hall", "prepared"]

SHEETS = (
    "/sheets/commands?language=es",
    "/sheets/defects?language=ar",
    "/sheets/forms?first=FEN-0101&count=2",
    "/sheets/tags?item=BLW-1&item=TUB-1&size=50x30",
    "/sheets/slips?item=BLW-1",
    "/sheets/stations",
    "/sheets/stations?station=BENCH",
    "/items/KIT-7/label?language=ar",
)


def printed(told: Any) -> bytes:
    """Returns a PDF that was answered."""
    assert told.status_code == 200, told.text
    assert told.headers["content-type"] == "application/pdf"
    assert told.headers["cache-control"] == "private, no-store"
    content: bytes = told.content
    assert content.startswith(b"%PDF-1.7")
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in content
    return content


@pytest.mark.parametrize("path", SHEETS)
def test_each_sheet_is_pdf_a_and_the_same_on_every_node(hall: Hall, path: str) -> None:
    assert printed(hall.get(path)) == printed(hall.get(path))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sheet_is_in_the_language_asked_for(hall: Hall, language: str) -> None:
    made = printed(hall.get(f"/sheets/commands?language={language}"))
    assert f"/Lang({language})".encode() in made


def test_a_label_is_printed_only_after_the_release_is_on_record(hall: Hall) -> None:
    hall.floor.bring("BLW-2", "inspected")
    told = hall.get("/items/BLW-2/label")
    assert (told.status_code, told.json()["type"]) == (409, "/v1/problems/refused")
    assert [one["rule"] for one in told.json()["answer"]["reasons"]] == ["U02"]
    before = hall.floor.department.last_feed()
    hall.floor.bring("BLW-2", "ready")
    assert hall.floor.department.last_feed() > before
    told = hall.get("/items/BLW-2/label")
    assert told.headers["content-disposition"] == 'inline; filename="label-BLW-2.pdf"'
    assert b"2026-03-05" in printed(told)


def test_a_held_item_has_no_label_and_printing_writes_nothing(hall: Hall) -> None:
    before = hall.floor.department.last_feed()
    printed(hall.get("/items/BLW-3/label"))
    assert hall.floor.department.last_feed() == before
    hall.floor.ask(asking.PlaceHold("BLW-3", "administrative", "label", "cora"))
    told = hall.get("/items/BLW-3/label")
    assert told.status_code == 409
    assert "G02" in {one["rule"] for one in told.json()["answer"]["reasons"]}


BAD = (
    ("/sheets/commands?language=xx", 422),
    ("/sheets/nothing", 404),
    ("/sheets/forms", 422),
    ("/sheets/forms?first=FEN", 422),
    ("/sheets/forms?first=FEN-99&count=2", 422),
    ("/sheets/forms?first=FEN-0101&count=21", 422),
    ("/sheets/tags", 422),
    ("/sheets/tags?item=%23read(x)", 404),
    ("/sheets/tags?item=BLW-404", 404),
    ("/sheets/tags?item=BLW%0A1", 422),
    ("/sheets/tags?item=BLW-1&size=a5", 422),
    ("/sheets/tags?" + "&".join(f"item=BLW-{number}" for number in range(61)), 422),
    ("/sheets/slips?item=BLW-404", 404),
    ("/sheets/stations?station=NOWHERE", 404),
    ("/items/BLW-404/label", 404),
    ("/items/KIT-7/label?language=xx", 422),
)


@pytest.mark.parametrize(("path", "status"), BAD)
def test_what_cannot_be_printed_is_a_problem(hall: Hall, path: str, status: int) -> None:
    told = hall.get(path)
    assert told.status_code == status, told.text
    assert told.headers["content-type"] == "application/problem+json"


def test_an_item_named_twice_is_one_tag(hall: Hall) -> None:
    assert printed(hall.get("/sheets/tags?item=BLW-1&item=BLW-1")) == printed(hall.get("/sheets/tags?item=BLW-1"))


@pytest.mark.parametrize("path", SHEETS)
def test_whoever_may_not_read_items_prints_nothing(hall: Hall, path: str) -> None:
    hall.caller = token("items:read")
    printed(hall.get(path))
    hall.caller = token("work:read")
    assert hall.get(path).status_code == 403


@pytest.mark.parametrize(
    "path",
    ["/sheets/tags?item=BLW-1", "/sheets/slips?item=BLW-1", "/items/KIT-7/label", "/sheets/stations?station=BENCH"],
)
def test_another_sites_items_are_not_on_record_for_the_caller(hall: Hall, path: str) -> None:
    hall.caller = replace(hall.caller, sites=frozenset({"SAL"}))
    assert hall.get(path).status_code == 404
