"""Wearers over HTTP: pseudonyms everywhere, names only where they are asked for, each time with an entry (D13, I21)."""

from __future__ import annotations

from typing import Any

import pytest

from reprocess.record.words import WearerNameRead
from tests.service.conftest import Bench, anna
from tests.service.staff import HEALTH, PROGRAMME, elsewhere, joined, token, worn

WHO = {"name": "Ilse Varga", "badge": "W-7041", "contact": "ilse.varga@larkmoor.example"}
PRIVATE = ("Ilse", "Varga", "W-7041", "ilse.varga")


@pytest.fixture
def office(served: Bench) -> Bench:
    """Returns the bench at which the programme's administrator is signed in."""
    served.caller = joined(served, "HANA", "Hana Reed", PROGRAMME, HEALTH)
    return served


def registered(office: Bench, **more: Any) -> str:
    told = office.post("/wearers", {"unit": "ED", "who": WHO | more})
    assert told.status_code == 200, told.text
    assert not [one for one in PRIVATE if one in told.text]
    return str(told.json()["subject"]).removeprefix("wearer:")


def test_a_wearer_is_registered_under_a_pseudonym_and_the_same_key_means_the_same_one(office: Bench) -> None:
    first = office.post("/wearers", {"unit": "ED", "who": WHO}, key="ilse")
    second = office.post("/wearers", {"unit": "ED", "who": WHO}, key="ilse")
    assert second.json() == first.json() | {"repeated": True}
    other = office.post("/wearers", {"unit": "ED", "who": WHO | {"name": "Tomas Quine"}}, key="ilse")
    assert (other.status_code, other.json()["type"]) == (422, "/v1/problems/key-reused")
    assert "Quine" not in other.text


def test_names_are_shown_for_a_purpose_once_a_key_and_each_is_on_record(office: Bench) -> None:
    wearer = registered(office)
    asked = {"wearers": [wearer], "why": "exposure"}
    told = office.post("/wearers/names", asked, key="names")
    assert told.json()["names"] == [{"wearer": wearer, **WHO}]
    assert told.headers["cache-control"] == "no-store"
    entries = office.department.history(f"wearer:{wearer}")
    read = [(one.envelope.actor, one.body.why) for one in entries if isinstance(one.body, WearerNameRead)]
    assert read == [("HANA", "exposure")]
    again = office.post("/wearers/names", asked, key="names")
    assert (again.json()["names"], again.json()["answer"]["repeated"]) == ([], True)


def test_no_other_answer_holds_a_name(office: Bench) -> None:
    wearer = registered(office)
    worn(office, wearer, "S-1")
    answers = [
        office.get("/wearers"),
        office.get(f"/wearers/{wearer}"),
        office.post("/wearers", {"unit": "ED", "who": WHO}),  # the badge is another wearer's by now
        office.post("/wearers", {"unit": "ED", "who": WHO | {"name": "Ilse\u0000Varga"}}),
        office.post("/wearers", {"unit": "ED", "who": {**WHO, "born": "Varga"}}),
        office.post("/wearers/names", {"wearers": [wearer], "why": "curiosity"}),
        office.post(f"/wearers/{wearer}/trace"),
        office.get("/lookbacks?sort=item&name=S-1"),
    ]
    assert [one.status_code for one in answers] == [200, 200, 422, 422, 422, 422, 200, 200]
    assert not [(one.url, word) for one in answers for word in PRIVATE if word in one.text + str(one.headers)]


def test_a_supervisor_sees_no_name(office: Bench) -> None:
    wearer = registered(office)
    office.caller = anna()  # the record knows anna as a supervisor, whatever the session says
    told = office.post("/wearers/names", {"wearers": [wearer], "why": "audit"})
    assert (told.status_code, told.json()["answer"]["reasons"][0]["rule"]) == (409, "D13")
    assert not [one for one in PRIVATE if one in told.text]


def test_training_clearance_and_fit_are_told_without_a_name(office: Bench) -> None:
    wearer = registered(office)
    for path, body in (
        ("training", {"until": "2027-03-05T00:00:00Z"}),
        ("clearance", {"cleared": True, "until": "2027-03-05T00:00:00Z"}),
        ("fit-tests", {"model": "M-9", "fits": True}),
    ):
        assert office.post(f"/wearers/{wearer}/{path}", body).status_code == 200
    told = office.get(f"/wearers/{wearer}").json()
    assert (told["trained_until"], told["cleared"], told["fits"]) == (
        "2027-03-05T00:00:00Z",
        True,
        [{"model": "M-9", "until": None}],
    )


def test_a_trace_is_on_record_and_a_repetition_shows_nothing(office: Bench) -> None:
    wearer = registered(office)
    worn(office, wearer, "S-1")
    told = office.post(f"/wearers/{wearer}/trace", key="trace").json()
    assert {one["item"] for one in told["lookback"]["uses"]} == {"S-1"}
    assert office.department.history(f"wearer:{wearer}")[-1].kind == "wearer-traced"
    assert office.post(f"/wearers/{wearer}/trace", key="trace").json()["lookback"] is None


def test_wearers_of_other_sites_are_not_seen(office: Bench) -> None:
    wearer = registered(office)
    office.caller = elsewhere(office.caller)
    assert office.get(f"/wearers/{wearer}").status_code == 404
    assert office.get("/wearers").json()["wearers"] == []


def test_a_token_reads_no_names(office: Bench) -> None:
    wearer = registered(office)
    office.caller = token("wearers:read", "wearers:write", "badges:claim")
    told = office.post("/wearers/names", {"wearers": [wearer], "why": "audit", "station": "LMG-1", "badge": "B-HANA"})
    assert told.status_code == 403
