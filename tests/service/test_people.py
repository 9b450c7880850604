"""People over HTTP: reading, the matrix of who can do what, and changes to the version that was read."""

from __future__ import annotations

from typing import Any

import pytest

from tests.service.conftest import Bench, anna
from tests.service.staff import BOTH, SIGNED, elsewhere, etag, joined, token, with_pins

GRANT: dict[str, Any] = {
    "competency": "clean",
    "item_kinds": ["filter"],
    "from": "2026-03-05T00:00:00Z",
    "until": "2027-03-05T00:00:00Z",
    "assessor": "Larkmoor school",
}


@pytest.fixture
def signed(served: Bench) -> Bench:
    return with_pins(served, "P-A", "P-B")


def test_people_are_listed_by_id_a_page_at_a_time(served: Bench) -> None:
    first = served.get("/people?limit=1")
    assert [one["person"] for one in first.json()["people"]] == ["P-A"]
    assert (first.json()["next"], first.headers["link"]) == ("P-A", '</v1/people?limit=1&after=P-A>; rel="next"')
    second = served.get("/people?limit=1&after=P-A")
    assert ([one["person"] for one in second.json()["people"]], second.json()["next"]) == (["P-B"], None)


def test_badges_are_for_supervisors_only(served: Bench) -> None:
    assert served.get("/people/P-A").json()["badges"] == ["B-A"]
    served.caller = token("people:read")
    told = served.get("/people/P-A")
    assert told.json()["badges"] is None
    assert "B-A" not in told.text
    assert told.json()["competencies"][0]["until"] == "2099-01-01T00:00:00Z"


def test_a_person_has_an_etag_that_changes_with_every_entry(signed: Bench) -> None:
    """RFC 9110, 13.1.2: a matching If-None-Match answers 304 with the ETag and without a body."""
    read = signed.get("/people/P-B")
    again = signed.get("/people/P-B", headers={"If-None-Match": read.headers["etag"]})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", read.headers["etag"])
    told = signed.post("/people/P-B/badges", {"own_badge": "B-B7", **SIGNED}, headers=etag(read))
    assert told.status_code == 200, told.text
    assert signed.get("/people/P-B").headers["etag"] != read.headers["etag"]


def test_a_change_names_the_version_that_was_read(signed: Bench) -> None:
    """RFC 6585, 3 and RFC 9110, 13.1.1; nothing of a change that came too late is on record."""
    body = {"own_badge": "B-B7", **SIGNED}
    missing = signed.post("/people/P-B/badges", body)
    assert (missing.status_code, missing.json()["type"]) == (428, "/v1/problems/precondition-missing")
    read = signed.get("/people/P-B")
    assert signed.post("/people/P-B/competencies", GRANT | SIGNED, headers=etag(read)).status_code == 200
    before = signed.department.last_feed()
    late = signed.post("/people/P-B/badges", body, headers=etag(read))
    assert (late.status_code, late.json()["type"]) == (412, "/v1/problems/precondition")
    weak = signed.post("/people/P-B/badges", body, headers={"If-Match": "W/" + read.headers["etag"]})
    assert weak.status_code == 412
    assert signed.department.last_feed() == before
    listed = {"If-Match": f'"1", {signed.get("/people/P-B").headers["etag"]}'}
    assert signed.post("/people/P-B/badges", body, headers=listed).status_code == 200


def test_a_repetition_is_answered_whatever_happened_since(signed: Bench) -> None:
    """I9: the same key gives the same answer; its If-Match was true then."""
    read = signed.get("/people/P-B")
    first = signed.post("/people/P-B/competencies", GRANT | SIGNED, key="grant", headers=etag(read))
    second = signed.post("/people/P-B/competencies", GRANT | SIGNED, key="grant", headers=etag(read))
    assert second.json() == first.json() | {"repeated": True}


def test_a_role_that_carries_rights_takes_two_people(signed: Bench) -> None:
    body = {"person": "P-C", "name": "Cora Lind", "sites": ["LMG"], "roles": ["supervisor"]}
    alone = signed.post("/people", body | SIGNED)
    assert alone.status_code == 401, alone.text
    assert signed.get("/people/P-C").status_code == 404
    both = signed.post("/people", body | BOTH)
    assert both.status_code == 200, both.text
    last = signed.department.history("person:P-C")[-1].envelope
    assert (last.actor, last.second, last.identity) == ("P-A", "P-B", "signed")


def test_a_person_without_a_role_is_registered_by_one(signed: Bench) -> None:
    body = {"person": "P-D", "name": "Dara Moss", "sites": ["LMG"], "roles": []}
    assert signed.post("/people", body | SIGNED).status_code == 200
    known = signed.post("/people", body | SIGNED)
    assert (known.status_code, known.json()["answer"]["reasons"][0]["key"]) == (409, "known-already")


def test_a_site_that_nobody_opened_is_no_place_to_work(signed: Bench) -> None:
    told = signed.post("/people", {"person": "P-D", "name": "Dara Moss", "sites": ["XXX"], "roles": [], **SIGNED})
    assert (told.status_code, told.json()["answer"]["reasons"][0]["facts"]) == (409, {"subject": "site:XXX"})


def test_the_matrix_tells_who_can_do_what_now(served: Bench) -> None:
    rows = served.get("/people/capabilities?item_kind=filter").json()["rows"]
    able = {one["step"]: [person["person"] for person in one["able"]] for one in rows}
    assert able == {"clean": ["P-A"], "disinfect": ["P-A"], "inspect": ["P-B"], "release": ["P-A", "P-B"]}
    late = served.get("/people/capabilities", params={"step": "clean", "at": "2100-01-01T00:00:00Z"}).json()["rows"]
    assert [(one["able"], one["lapsed"][0]["person"]) for one in late] == [([], "P-A")]


def test_people_of_other_sites_are_not_seen(served: Bench) -> None:
    joined(served, "E1", "Edda Roon", sites=("LMG",))
    served.caller = elsewhere(anna())
    assert served.get("/people/E1").status_code == 404
    assert [one["person"] for one in served.get("/people").json()["people"]] == ["P-A", "P-B"]


def test_a_known_place_is_changed_only_from_the_version_that_was_read(signed: Bench) -> None:
    """Setting up a new one needs no If-Match; a reading of it is a fact, which needs none either."""
    body = {"place": "ST-1", "title": "Clean store", "sort": "store", "zone": "clean"}
    assert signed.post("/places", body | SIGNED).status_code == 200
    unread = signed.post("/places", body | {"title": "Store"} | SIGNED)
    assert (unread.status_code, unread.json()["type"]) == (428, "/v1/problems/precondition-missing")
    late = signed.post("/places", body | {"title": "Store"} | SIGNED, headers={"If-Match": '"7"'})
    assert late.status_code == 412
    assert signed.post("/places", body | {"title": "Store"} | SIGNED, headers={"If-Match": '"1"'}).status_code == 200
    assert signed.get("/places/ST-1").headers["etag"] == '"2"'
    assert signed.post("/places/ST-1/readings", {"reading": "temp_c", "value": "20"}).status_code in (200, 409)


def test_every_fact_about_the_department_can_be_written(signed: Bench) -> None:
    """Sites, stations, instruments: each body once, created without If-Match and changed with it."""

    def write(path: str, body: dict[str, Any], number: int | None = None) -> int:
        headers = {} if number is None else {"If-Match": f'"{number}"'}
        told = signed.post(path, body | SIGNED, headers=headers)
        assert told.status_code in (200, 409, 422), told.text
        return int(told.status_code)

    assert write("/sites", {"site": "SAL", "title": "Saltmarsh", "zone": "America/Halifax"}) == 200
    assert write("/sites", {"site": "SA2", "title": "Saltmarsh", "zone": "Nowhere/Halifax"}) == 422
    assert write("/stations/SAL-1", {"title": "Bench", "site": "SAL", "side": "clean"}) == 200
    assert write("/stations/SAL-2", {"title": "Bench", "site": "XXX", "side": "clean"}) == 409
    assert write("/sites/SAL/quiet-hours", {"role": "supervisor", "begins": "22:00", "ends": "06:00"}) == 200
    assert write("/sites/SAL/quiet-hours", {"role": "supervisor", "begins": "22h", "ends": "06:00"}) == 422
    assert write("/sites/SAL/evaluated", {"reference": "EV-1"}) == 200
    assert signed.get("/sites/SAL").json()["quiet"] == {"supervisor": {"begins": "22:00", "ends": "06:00"}}
    assert [one["site"] for one in signed.get("/sites").json()["sites"]] == ["LMG", "SAL"]
    assert write("/instruments", {"instrument": "FI-1", "sort": "flow-meter", "site": "LMG"}) == 200
    verified = {"until": "2027-01-01T00:00:00Z", "reference": "C-1"}
    assert write("/instruments/FI-1/verified", verified, 1) == 200
    assert write("/instruments/FI-1/faulty", {"finding": "fell"}) == 200
    left = {"reason": "moved away"}
    assert write("/people/P-B/left", left, int(signed.get("/people/P-B").headers["etag"].strip('"'))) == 200
    assert signed.get("/people/P-B").json()["active"] is False
