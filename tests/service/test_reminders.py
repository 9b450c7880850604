"""Reminders over HTTP: what is due, what rang, and the acknowledgement, recorded once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.record.words import ReminderSeen
from reprocess.reminders.listing import coming
from reprocess.reminders.rounds import sweep
from tests.service.conftest import Bench, anna
from tests.service.staff import elsewhere, token

DAY_S = 86_400


@pytest.fixture
def rung(served: Bench) -> Bench:
    """Returns the bench an hour after everything that was due rang."""
    served.clock.push(7 * DAY_S)
    assert sweep(served.department.ledger, served.clock, lambda _: True, "one")
    served.clock.push(3600)
    return served


def test_what_is_due_is_listed_in_the_order_of_the_department(rung: Bench) -> None:
    expected = coming(rung.department.ledger, rung.clock.now().wall_us, DAY_S)
    told = rung.get("/reminders?limit=200").json()
    assert [one["key"] for one in told["reminders"]] == [one.row.due.key for one in expected]
    assert all(one["sentence"] for one in told["reminders"])
    assert told["bell"]["last_sweep"] is not None


def test_pages_hold_everything_once(rung: Bench) -> None:
    whole = rung.get("/reminders?limit=200").json()
    found = []
    for after in range(0, whole["total"], 2):
        page = rung.get(f"/reminders?limit=2&after={after}")
        found += page.json()["reminders"]
        assert ("link" in page.headers) == (page.json()["next"] is not None)
    assert [one["key"] for one in found] == [one["key"] for one in whole["reminders"]]


def test_an_acknowledgement_is_recorded_once_under_the_callers_badge(rung: Bench) -> None:
    key = next(one["key"] for one in rung.get("/reminders").json()["reminders"] if one["rang"] and not one["seen"])
    first = rung.post("/reminders/seen", {"key": key})
    assert (first.status_code, key in first.json()["seen"]) == (200, True)
    second = rung.post("/reminders/seen", {"key": key})
    assert second.json() == {"seen": []}
    entries = [one for one in rung.department.history("site:LMG") if isinstance(one.body, ReminderSeen)]
    own = [(one.envelope.actor, one.envelope.identity) for one in entries if one.body.key == key]  # type: ignore[attr-defined]
    assert own == [("P-A", "signed-in")]
    listed = {one["key"]: one["seen"] for one in rung.get("/reminders?limit=200").json()["reminders"]}
    assert listed.get(key, "gone") is not None


def test_a_request_names_a_key_or_a_subject(rung: Bench) -> None:
    for body in ({}, {"key": "a/b/c/d", "subject": "item:S-1"}, {"key": "item:S-1"}, {"subject": "a/b"}):
        assert rung.post("/reminders/seen", body).status_code == 422
    unknown = rung.post("/reminders/seen", {"key": "R99/item:S-1/1/x"})
    assert (unknown.status_code, unknown.json()["type"]) == (404, "/v1/problems/unknown-subject")


def test_nobody_acknowledges_for_another_and_no_token_without_a_person(rung: Bench) -> None:
    told = rung.post("/reminders/seen", {"subject": "item:S-1", "badge": "B-B"})
    assert told.status_code == 403
    rung.caller = token("scans:write", "items:read")
    assert rung.post("/reminders/seen", {"subject": "item:S-1"}).status_code in (403, 422)


def test_another_site_neither_sees_nor_acknowledges(rung: Bench) -> None:
    subject = next(one["subject"] for one in rung.get("/reminders").json()["reminders"] if one["rang"])
    rung.caller = elsewhere(anna())
    assert [one for one in rung.get("/reminders").json()["reminders"] if one["site"] == "LMG"] == []
    assert rung.post("/reminders/seen", {"subject": subject}).json() == {"seen": []}
    rung.caller = replace(anna(), sites=frozenset({"LMG"}))
    assert rung.post("/reminders/seen", {"subject": subject}).json()["seen"]
