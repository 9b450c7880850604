"""Recalls, open holds and exposure cases over HTTP."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from reprocess.engine.request import PreviewRecall
from reprocess.record.touching import UNKNOWN_WEARER
from reprocess.service.answers import as_us
from reprocess.service.operations import WRITES
from reprocess.service.who import Caller
from reprocess.service.writing import _request
from tests.service.conftest import Bench, anna
from tests.service.staff import HEALTH, PROGRAMME, SIGNED, elsewhere, joined, worn

WHO = {"name": "Ilse Varga", "badge": "W-7041", "contact": "extension 118"}


@pytest.fixture
def recalled(served: Bench) -> tuple[Bench, str]:
    """Returns the bench after a bath was recalled that a worn part lay in, and the wearer."""
    hana = joined(served, "HANA", "Hana Reed", PROGRAMME, HEALTH)
    served.caller = hana
    wearer = served.post("/wearers", {"unit": "ED", "who": WHO}).json()["subject"].removeprefix("wearer:")
    worn(served, wearer, "S-1")
    served.caller = anna()
    body = {"recall": "R-1", "sort": "solution", "name": "W-1", "cause": "the lot was doubted"}
    assert served.post("/recalls", body).status_code == 200
    return served, wearer


def _committed(bench: Bench) -> str:
    total = len(bench.get("/recalls/R-1").json()["preview"])
    told = bench.post("/recalls/R-1/commit", {"total": total})
    assert told.status_code in (200, 409), told.text
    return str(bench.get("/recalls/R-1").json()["case"])


def hana(bench: Bench) -> Caller:
    return replace(anna(), person="HANA", badge="B-HANA")


def test_a_preview_is_shown_before_anything_is_held(recalled: tuple[Bench, str]) -> None:
    bench, _ = recalled
    told = bench.get("/recalls/R-1").json()
    assert (told["state"], told["preview"], told["items"]) == ("previewed", ["S-1"], [])


def test_a_recall_tells_what_is_located_and_how_soon(recalled: tuple[Bench, str]) -> None:
    bench, _ = recalled
    _committed(bench)
    told = bench.get("/recalls/R-1").json()
    assert (told["state"], [one["item"] for one in told["items"]]) == ("open", ["S-1"])
    assert told["not_located"] == 1
    assert told["effectiveness"][-1] == {"age": "now", "located": 0, "total": 1}
    assert [one["recall"] for one in bench.get("/recalls").json()["recalls"]] == ["R-1"]
    bench.caller = elsewhere(anna())
    hidden = bench.get("/recalls/R-1").json()
    assert (hidden["items"], hidden["left_out"], hidden["not_located"]) == ([], 1, 1)


def test_open_holds_are_listed_by_what_they_are(recalled: tuple[Bench, str]) -> None:
    bench, _ = recalled
    _committed(bench)
    every = bench.get("/holds").json()["holds"]
    known = {(item.item, hold) for item in bench.department.items() for hold in item.holds}
    assert {(one["item"], one["hold"]) for one in every} == known
    own = bench.get("/holds?recall=R-1").json()["holds"]
    assert {one["item"] for one in own} >= {"S-1"}
    assert {one["recall"] for one in own} == {"R-1"}
    paged = [bench.get("/holds?limit=1").json()]
    for _ in known:
        if paged[-1]["next"] is not None:
            paged.append(bench.get(f"/holds?limit=1&after={paged[-1]['next']}").json())
    assert [one for part in paged for one in part["holds"]] == every
    bench.caller = elsewhere(anna())
    assert bench.get("/holds").json()["holds"] == []


def test_a_case_in_short_tells_nobody(recalled: tuple[Bench, str]) -> None:
    bench, wearer = recalled
    case = _committed(bench)
    told = bench.get(f"/cases/{case}")
    assert (told.json()["state"], told.json()["wearers"]) == ("undecided", 2)
    assert wearer not in told.text + bench.get("/cases").text


def test_looking_into_a_case_is_on_record(recalled: tuple[Bench, str]) -> None:
    bench, wearer = recalled
    case = _committed(bench)
    refused = bench.post(f"/cases/{case}/read")
    assert (refused.status_code, refused.json()["answer"]["reasons"][0]["rule"]) == (409, "H07")
    bench.caller = hana(bench)
    told = bench.post(f"/cases/{case}/read", key="look")
    assert {one["wearer"] for one in told.json()["case"]["exposed"]} == {wearer, UNKNOWN_WEARER}
    assert bench.department.history(f"case:{case}")[-1].kind == "case-read"
    assert bench.post(f"/cases/{case}/read", key="look").json()["case"] is None


def test_the_list_of_those_to_be_told_has_names_and_every_copy_is_on_record(recalled: tuple[Bench, str]) -> None:
    bench, wearer = recalled
    case = _committed(bench)
    bench.caller = hana(bench)
    early = bench.post(f"/cases/{case}/names")
    assert (early.status_code, "Varga" in early.text) == (409, False)
    for use in bench.post(f"/cases/{case}/read").json()["case"]["exposed"]:
        graded = bench.post(f"/cases/{case}/grades", {"use": use["use"], "grade": "gross", "because": "no contact"})
        assert graded.status_code == 200, graded.text
    decided = bench.post(f"/cases/{case}/decision", {"notify": True, "because": "doubt remains", **SIGNED})
    assert decided.status_code == 200, decided.text
    told = bench.post(f"/cases/{case}/names", key="list").json()
    assert told["copy_number"] == 1
    nobody: dict[str, Any] = {"wearer": UNKNOWN_WEARER, "name": None, "badge": None, "contact": None}
    ilse: dict[str, Any] = {"wearer": wearer, **WHO}
    assert told["wearers"] == [one | {"grade": "gross", "told": None} for one in (nobody, ilse)]
    again = bench.post(f"/cases/{case}/names", key="list").json()
    assert (again["wearers"], again["copy_number"]) == ([], None)


def test_a_recall_until_a_second_reaches_what_happened_within_it() -> None:
    """Instants go out to the second: whoever sends one back means all of it."""
    row = next(one for one in WRITES if one.request is PreviewRecall)
    given: dict[str, Any] = dict.fromkeys(("from", "notice"))
    given |= {"recall": "R-2", "sort": "solution", "name": "W-1", "cause": "doubt", "owner": "hana", "items": []}
    told = datetime(2026, 3, 5, 8, 46, 54, tzinfo=UTC)
    asked = _request(row, given | {"until": told})
    assert asked.until_us == as_us(told) + 999_999
    exact = told.replace(microsecond=5)
    assert _request(row, given | {"until": exact}).until_us == as_us(exact)
