"""Screens over HTTP: how a browser becomes one, and how badges alone are taken there (A07, D10)."""

from __future__ import annotations

from http.cookies import SimpleCookie
from typing import Any

import pytest
from fastapi.testclient import TestClient

from reprocess.record import words
from reprocess.rules.guessing import SHIFT_S, STATION_TRIES
from reprocess.signing_in.sessions import GIVE_PIN
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.test_signing_in import DARA, HOST, SAME, Desk, app, desk, token  # noqa: F401 - fixtures of both
from tests.signing_in.people import ANNA, BEN, STATION, WRONG, Somebody, entries

COOKIE = "__Host-screen"
UNTIL = "2026-09-01T00:00:00Z"
WANTED = {"screen": "HATCH-LEFT", "label": "left of the hatch", "until": UNTIL}


def enrol(desk: Desk, who: Somebody = ANNA, **more: Any) -> Any:  # noqa: F811
    """Returns the answer to enrolling the screen, by somebody who is signed in at its browser."""
    desk.sign_in(who)
    return desk.ask("/screens", WANTED | {"pin": who.pin} | more, SAME)


def scanned(desk: Desk, badge: str, station: str = STATION, **more: Any) -> Any:  # noqa: F811
    """Returns the answer to a badge alone."""
    body = {"badge": badge, "station": station}
    return desk.client.post("/v1/sessions", json=body, headers=SAME, **more)


def test_a_browser_becomes_a_screen_by_a_cookie_that_no_script_and_no_other_site_sees(desk: Desk) -> None:  # noqa: F811
    """OWASP ASVS 5.0, 3.3.1 to 3.3.4 (from memory): Secure, __Host-, SameSite, HttpOnly; it lasts until it runs out."""
    answer = enrol(desk)
    assert answer.status_code == 200, answer.text
    assert "secret" not in answer.json()
    assert answer.headers["cache-control"] == "no-store"
    cookie = SimpleCookie(answer.headers["set-cookie"])[COOKIE]
    assert (cookie["secure"], cookie["httponly"], cookie["path"], cookie["domain"]) == (True, True, "/", "")
    assert cookie["samesite"].lower() == "strict"
    until_s = 1_788_220_800  # 2026-09-01T00:00:00Z, as `date -u -d 2026-09-01 +%s` has it
    assert int(cookie["max-age"]) == until_s - desk.clock.now().wall_us // 1_000_000
    entry = entries(desk.department, "token:HATCH-LEFT")[-1]
    assert isinstance(entry.body, words.TokenIssued)
    assert (entry.body.station, entry.envelope.actor, entry.envelope.identity) == (STATION, ANNA.person, "signed")
    assert cookie.value not in repr(entry)


def test_a_program_gets_its_secret_once_and_no_cookie(desk: Desk) -> None:  # noqa: F811
    desk.sign_in()
    headers = SAME | {"Idempotency-Key": "once"}
    body = WANTED | {"pin": ANNA.pin, "bearer": True}
    answers = [desk.client.post("/v1/screens", json=body, headers=headers) for _ in range(2)]
    assert answers[0].json()["secret"].startswith("rpn_")
    assert [one.status_code for one in answers] == [200, 200]
    assert "secret" not in answers[1].json()
    assert not any("set-cookie" in one.headers for one in answers)


def test_enrolling_is_signed_by_an_office(desk: Desk) -> None:  # noqa: F811
    desk.sign_in()
    for pin in ({}, {"pin": WRONG}):
        assert desk.fault(desk.ask("/screens", WANTED | pin, SAME)) == (401, "not-signed-in")
    assert desk.fault(enrol(desk, DARA)) == (403, "not-allowed")
    assert desk.fault(enrol(desk, station="LMV-1"))[0] == 403, "a screen belongs to the station of the session"
    assert desk.fault(enrol(desk, until="2027-09-01T00:00:00Z")) == (409, "refused")
    program = token(desk, scopes=["items:read"])
    assert desk.fault(desk.ask("/screens", WANTED | {"station": STATION}, program)) == (403, "not-allowed")
    assert not entries(desk.department, "token:HATCH-LEFT")


def test_a_screen_is_listed_and_withdrawn_and_then_takes_no_badge_alone(desk: Desk) -> None:  # noqa: F811
    enrol(desk)
    assert scanned(desk, ANNA.badge).status_code == 201
    listed = desk.client.get("/v1/tokens").json()
    assert [(one["token"], one["station"], one["counts"]) for one in listed] == [("HATCH-LEFT", STATION, True)]
    gone = desk.ask("/tokens/HATCH-LEFT", {"reason": "lost"}, SAME, "DELETE")
    assert gone.status_code == 200, gone.text
    assert desk.fault(scanned(desk, ANNA.badge)) == (401, "not-signed-in")


def test_a_badge_alone_switches_between_people_in_their_shift(desk: Desk) -> None:  # noqa: F811
    enrol(desk)
    first = scanned(desk, BEN.badge)
    assert desk.fault(first) == (401, "not-signed-in")
    assert first.json()["detail"] == GIVE_PIN
    assert scanned(desk, "NOBODY").json()["detail"] == GIVE_PIN
    desk.sign_in(BEN)
    for who in (ANNA, BEN, ANNA):
        answer = scanned(desk, who.badge)
        assert answer.status_code == 201, answer.text
        assert desk.client.get("/v1/sessions/current").json()["person"] == who.person
    desk.clock.push(SHIFT_S)
    assert desk.fault(scanned(desk, ANNA.badge)) == (401, "not-signed-in")


def test_a_badge_alone_is_nothing_without_the_screen_of_that_very_station(desk: Desk) -> None:  # noqa: F811
    secret = enrol(desk, bearer=True).json()["secret"]
    other = TestClient(desk.app, base_url=HOST)
    body = {"badge": ANNA.badge, "station": STATION}
    without = other.post("/v1/sessions", json=body, headers=SAME)
    assert desk.fault(without) == (401, "not-signed-in")
    program = {"Authorization": f"Bearer {secret}"}
    assert desk.fault(other.post("/v1/sessions", json=body | {"station": "LMV-1"}, headers=program))[0] == 401
    assert other.post("/v1/sessions", json=body | {"bearer": True}, headers=program).status_code == 201
    chosen = other.post("/v1/sessions", json=body | {"new_pin": "77310264"}, headers=program)
    assert desk.fault(chosen) == (422, "invalid"), "nobody chooses a PIN by a badge"


@pytest.mark.parametrize("headers", [{}, {"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"}])
def test_another_site_scans_no_badge(desk: Desk, headers: dict[str, str]) -> None:  # noqa: F811
    enrol(desk)
    body = {"badge": ANNA.badge, "station": STATION}
    assert desk.fault(desk.client.post("/v1/sessions", json=body, headers=headers)) == (403, "wrong-origin")


def test_a_screens_secret_opens_nothing_of_the_interface(desk: Desk) -> None:  # noqa: F811
    secret = enrol(desk, bearer=True).json()["secret"]
    desk.client.cookies.clear()
    program = {"Authorization": f"Bearer {secret}"}
    for path in ("/items", "/people", "/wearers", "/sessions/current", "/tokens"):
        assert desk.fault(desk.client.get(f"/v1{path}", headers=program)) == (401, "not-signed-in"), path
    fact = {"cause": "used", "station": STATION}
    assert desk.fault(desk.ask("/items/S-1/contaminations", fact, program)) == (401, "not-signed-in")


def test_nobody_in_the_network_keeps_a_screen_from_taking_pins(desk: Desk) -> None:  # noqa: F811
    """Each guess names another badge, so that the station's limit counts and no person's."""
    enrol(desk)
    stranger = TestClient(desk.app, base_url=HOST, client=("192.0.2.9", 1))
    for number in range(STATION_TRIES):
        body = {"badge": f"NOBODY-{number}", "pin": WRONG, "station": STATION}
        assert stranger.post("/v1/sessions", json=body, headers=SAME).status_code == 401
    right = {"badge": ANNA.badge, "pin": ANNA.pin, "station": STATION}
    assert desk.fault(stranger.post("/v1/sessions", json=right, headers=SAME)) == (429, "too-many-tries")
    assert desk.sign_in().status_code == 201
