"""Paper forms over HTTP: the form first, then its lines, judged as the work of whoever did it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.service.conftest import Bench
from tests.service.staff import BOTH, with_pins

FORM: dict[str, Any] = {"form": "F-1", "lines": 2, "digest": "d" * 64}


def line(number: int, work: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"line": number, "work": work, "done_by": "B-A", "ended": "2026-03-06T06:00:00Z"} | more | BOTH


@pytest.fixture
def entered(served: Bench) -> Bench:
    with_pins(served, "P-A", "P-B")
    told = served.post("/forms", FORM | BOTH)
    assert told.status_code == 200, told.text
    return served


def test_a_form_is_told_with_who_entered_it(entered: Bench) -> None:
    told = entered.get("/forms/F-1").json()
    assert (told["lines"], told["entered_by"], told["countersigned_by"]) == (2, "P-A", "P-B")
    assert [one["form"] for one in entered.get("/forms").json()["forms"]] == ["F-1"]
    assert entered.get("/forms/F-2").status_code == 404


def test_a_line_is_taken_as_what_happened_then(entered: Bench) -> None:
    told = entered.post("/forms/F-1/lines", line(1, {"did": "contaminate", "item": "S-1", "cause": "dropped"}))
    assert told.status_code == 200, told.text
    last = entered.department.history("item:S-1")[-1]
    assert (last.kind, last.occurred_us) == ("item-contaminated", 1_772_776_800_000_000)


def test_nothing_is_released_on_paper(entered: Bench) -> None:
    """D09"""
    told = entered.post("/forms/F-1/lines", line(2, {"did": "off-limits", "item": "S-1", "what": "release"}))
    assert (told.status_code, told.json()["answer"]["reasons"][0]["rule"]) == (409, "D09")


def test_a_line_says_one_of_few_things(entered: Bench) -> None:
    for work in ({"did": "release", "item": "S-1"}, {"did": "do-step", "item": "S-1"}, {"item": "S-1"}):
        told = entered.post("/forms/F-1/lines", line(1, work))
        assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/invalid")
    late = entered.post("/forms/F-1/lines", line(1, {"did": "do-step", "item": "S-1", "step": "clean", "late": None}))
    assert late.status_code == 422


def test_a_line_of_no_form_is_refused(entered: Bench) -> None:
    told = entered.post("/forms/F-9/lines", line(1, {"did": "contaminate", "item": "S-1", "cause": "dropped"}))
    assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/wrong-use")
