"""Look-backs over HTTP: the same answer as the record gives, page by page, wearers for those who may see them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.engine.request import RegisterWearer
from reprocess.ledger.names import Name
from reprocess.station import Call
from tests.service.conftest import Bench, anna
from tests.service.staff import HEALTH, PROGRAMME, elsewhere, joined, token, worn

WEARER = "W-0000000000000001"


@pytest.fixture
def worn_once(served: Bench) -> Bench:
    """Returns the bench after a registered wearer had the part for an hour."""
    joined(served, "HANA", "Hana Reed", PROGRAMME, HEALTH)
    call = Call(RegisterWearer(WEARER, "ED"), "LMG-1", "B-HANA", None, "ilse", Name("Ilse Varga"))
    assert served.department.desk.take(call).accepted
    worn(served, WEARER, "S-1")
    return served


def test_what_touched_a_bath_is_answered_as_the_record_answers(worn_once: Bench) -> None:
    expected = worn_once.department.lookback("solution", "W-1")
    told = worn_once.get("/lookbacks?sort=solution&name=W-1").json()
    assert told["items"] == list(expected.items)
    assert (told["intervals_total"], told["uses_total"]) == (len(expected.touched), len(expected.uses))
    assert told["wearers"] == list(expected.wearers)
    assert WEARER in told["wearers"]
    assert {one["item"] for one in told["intervals"]} == {"S-1", "S-2"}


def test_wearers_are_withheld_from_who_may_not_see_them(worn_once: Bench) -> None:
    worn_once.caller = token("lookback:read")
    told = worn_once.get("/lookbacks?sort=item&name=S-1")
    assert (told.json()["wearers_total"], told.json()["wearers"]) == (2, [])  # the other one was never identified
    assert {one["wearer"] for one in told.json()["uses"]} == {"withheld"}
    assert WEARER not in told.text


def test_a_wearer_or_a_case_is_never_asked_about_by_reading(worn_once: Bench) -> None:
    for sort in ("wearer", "case"):
        told = worn_once.get(f"/lookbacks?sort={sort}&name={WEARER}")
        assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/invalid")


def test_a_guarded_question_is_refused_to_a_supervisor_and_that_is_on_record(worn_once: Bench) -> None:
    before = worn_once.department.last_feed()
    told = worn_once.post("/lookbacks", {"sort": "wearer", "name": WEARER})
    assert (told.status_code, told.json()["answer"]["reasons"][0]["rule"]) == (409, "H07")
    assert WEARER not in told.json()["detail"]
    assert worn_once.department.last_feed() == before + 1
    worn_once.caller = replace(anna(), person="HANA", badge="B-HANA")
    shown = worn_once.post("/lookbacks", {"sort": "wearer", "name": WEARER})
    assert shown.json()["lookback"]["wearers"] == [WEARER]


def test_pages_hold_everything_once(worn_once: Bench) -> None:
    whole = worn_once.get("/lookbacks?sort=person&name=P-A").json()
    found, after = [], 0
    for _ in range(whole["intervals_total"] + 1):
        one = worn_once.get(f"/lookbacks?sort=person&name=P-A&limit=2&after={after}").json()
        found += one["intervals"]
        if one["next"] is None:
            break
        after = one["next"]
    assert found == whole["intervals"]


def test_the_record_answers_as_it_stood(worn_once: Bench) -> None:
    """Before the day nothing had touched the bath."""
    asked = {"sort": "solution", "name": "W-1", "as_of": "2026-03-05T07:05:30Z"}
    told = worn_once.get("/lookbacks", params=asked).json()
    assert (told["items"], told["as_of"]) == ([], "2026-03-05T07:05:30Z")


def test_what_belongs_to_other_sites_is_counted_and_not_shown(worn_once: Bench) -> None:
    worn_once.caller = elsewhere(anna())
    told = worn_once.get("/lookbacks?sort=solution&name=W-1").json()
    assert (told["items"], told["intervals"], told["uses"], told["left_out"]) == ([], [], [], 2)


def test_what_is_not_on_record_is_told(served: Bench) -> None:
    told = served.get("/lookbacks?sort=item&name=NOBODY-1")
    assert (told.status_code, told.json()["type"]) == (404, "/v1/problems/unknown-subject")
