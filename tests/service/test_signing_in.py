"""Signing in, signing, tokens and the first run over HTTP, as browsers and programs do it (A07, D10)."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.responses import Response

from reprocess.batching import Batcher
from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import Library
from reprocess.ledger.append import transaction
from reprocess.record import words
from reprocess.rules.guessing import FREE, IDLE_S
from reprocess.service.api import feed
from reprocess.service.app import create_app
from reprocess.signing_in import first_run
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US
from tests.signing_in.people import ANNA, BEN, CHEAP_KIB, STATION, WRONG, Somebody, enrolled, entries, give_pin

HOST = "https://testserver"
SAME = {"Sec-Fetch-Site": "same-origin", "Origin": HOST}
COOKIE = "__Host-session"


class Desk:
    """Is a browser or a program at the served department."""

    def __init__(self, app: FastAPI, department: Department, clock: StoryClock) -> None:
        self.client = TestClient(app, base_url=HOST)
        self.app = app
        self.department = department
        self.clock = clock
        self.keys = 0

    def sign_in(self, who: Somebody = ANNA, **more: Any) -> Any:
        body = {"badge": who.badge, "pin": who.pin, "station": STATION} | more
        return self.client.post("/v1/sessions", json=body, headers=SAME)

    def bearer(self, who: Somebody = ANNA) -> dict[str, str]:
        """Returns the header of a program at which somebody signed in."""
        secret = self.sign_in(who, bearer=True).json()["secret"]
        self.client.cookies.clear()
        return {"Authorization": f"Bearer {secret}"}

    def ask(self, path: str, body: dict[str, Any], headers: dict[str, str] | None = None, method: str = "POST") -> Any:
        self.keys += 1
        own = {"Idempotency-Key": f"own-{self.keys}"} | (headers or {})
        return self.client.request(method, f"/v1{path}", json=body, headers=own)

    def fault(self, answer: Any) -> tuple[int, str]:
        return answer.status_code, answer.json()["type"].rsplit("/", 1)[1]


@pytest.fixture(scope="module")
def app(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[FastAPI]:
    """Yields the application, whose routes take long to make; each test gives it a department of its own."""
    path = copied(day_over, tmp_path_factory.mktemp("app") / "copy")
    with small.opened(path, StoryClock(EVENING_US), library=Library()) as department:
        made = create_app(department)
        yield made
        made.state.served.batcher.close()


@pytest.fixture
def desk(app: FastAPI, day_over: Path, tmp_path: Path) -> Iterator[Desk]:
    """Yields the served department with two people who have PINs and an administrator of the system."""
    clock = StoryClock(EVENING_US, count=100_000)
    with small.opened(copied(day_over, tmp_path / "copy"), clock, library=Library()) as department:
        pins = Pins(department.ledger.key, memory_kib=CHEAP_KIB)
        body = words.PersonRegistered(name="Dara Holt", sites=(), roles=("system-administrator",))
        enrolled(department, f"person:{DARA.person}", body)
        enrolled(department, f"person:{DARA.person}", words.BadgeGiven(badge=DARA.badge))
        enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
        enrolled(department, "station:LMV-1", words.StationOpened(title="Bench", site="LMV", side="any"))
        for who in (ANNA, BEN, DARA):
            give_pin(department, pins, who)
        before = app.state.served
        kept = {name: part for name, part in before.parts.items() if name == "counts"}
        own = kept | {"door": Door(department.ledger, clock, pins)}
        app.state.served = replace(before, department=department, batcher=Batcher(department.desk), parts=own)
        yield Desk(app, department, clock)
        app.state.served.batcher.close()
        app.state.served = before


DARA = Somebody("P-S", "B-S", "52840913")


def test_a_session_comes_as_a_cookie_that_no_script_and_no_other_site_sees(desk: Desk) -> None:
    """OWASP ASVS 5.0, 3.3.1 to 3.3.4 (from memory): Secure, __Host-, SameSite, HttpOnly."""
    answer = desk.sign_in()
    assert answer.status_code == 201, answer.text
    assert "secret" not in answer.json()
    assert answer.headers["cache-control"] == "no-store"
    cookie = SimpleCookie(answer.headers["set-cookie"])[COOKIE]
    assert (cookie["secure"], cookie["httponly"], cookie["path"], cookie["domain"]) == (True, True, "/", "")
    assert cookie["samesite"].lower() == "strict"
    shown = desk.client.get("/v1/sessions/current")
    assert (shown.json()["person"], shown.json()["station"]) == (ANNA.person, STATION)


def test_on_loopback_without_tls_the_cookie_has_a_plain_name(desk: Desk) -> None:
    desk.app.state.served.parts["plain"] = True
    answer = desk.sign_in()
    cookie = SimpleCookie(answer.headers["set-cookie"])["session"]
    assert (cookie["secure"], cookie["httponly"]) == ("", True)


def test_a_program_gets_it_in_the_body_and_no_cookie(desk: Desk) -> None:
    answer = desk.sign_in(bearer=True)
    assert answer.json()["secret"].startswith("rps_")
    assert "set-cookie" not in answer.headers
    headers = {"Authorization": f"Bearer {answer.json()['secret']}"}
    assert desk.client.get("/v1/sessions/current", headers=headers).json()["person"] == ANNA.person


def test_wrong_pin_and_unknown_badge_are_answered_alike(desk: Desk) -> None:
    one, two = desk.sign_in(pin=WRONG), desk.sign_in(badge="NOBODY")
    assert desk.fault(one) == desk.fault(two) == (401, "not-signed-in")
    assert one.json()["detail"] == two.json()["detail"]
    assert set(one.headers) == set(two.headers)


def test_whoever_guesses_waits(desk: Desk) -> None:
    for _ in range(FREE):
        desk.sign_in(pin=WRONG)
    answer = desk.sign_in()
    assert desk.fault(answer) == (429, "too-many-tries")
    assert answer.headers["retry-after"] == "30"
    assert desk.sign_in(BEN).status_code == 201


def test_a_source_that_tries_too_often_waits_whatever_it_tries(desk: Desk) -> None:
    answers = [desk.sign_in(station="NOWHERE").status_code for _ in range(61)]
    assert answers[:60] == [404] * 60
    assert answers[60] == 429


def test_addresses_of_one_network_are_one_source(desk: Desk) -> None:
    """RFC 6177: whoever has one IPv6 address has 2^64 of them, and may try no oftener for it."""
    own = [TestClient(desk.app, base_url=HOST, client=(f"2001:db8::{at:x}", 1)) for at in range(4)]
    body = {"badge": ANNA.badge, "pin": ANNA.pin, "station": "NOWHERE"}
    answers = [own[at % len(own)].post("/v1/sessions", json=body, headers=SAME).status_code for at in range(61)]
    assert answers == [404] * 60 + [429]


def test_signing_out_ends_the_session_for_ever(desk: Desk) -> None:
    desk.sign_in()
    secret = desk.client.cookies[COOKIE]
    answer = desk.client.delete("/v1/sessions/current", headers=SAME)
    assert answer.status_code == 204
    replayed = desk.client.get("/v1/sessions/current", headers={"Authorization": f"Bearer {secret}"})
    assert desk.fault(replayed) == (401, "not-signed-in")


def test_an_id_from_outside_is_never_taken_over(desk: Desk) -> None:
    """Fixation."""
    desk.client.cookies.set(COOKIE, "rps_chosen-by-somebody-else", domain="testserver.local")
    before = desk.sign_in().headers["set-cookie"]
    assert "chosen-by-somebody-else" not in before


def test_a_lost_badge_ends_the_session_before_the_next_request(desk: Desk) -> None:
    headers = desk.bearer()
    enrolled(desk.department, f"person:{ANNA.person}", words.BadgeWithdrawn(badge=ANNA.badge, reason="lost"))
    assert desk.fault(desk.ask("/items/S-1/contaminations", {"cause": "used"}, headers)) == (401, "not-signed-in")


def test_a_session_that_nobody_uses_ends(desk: Desk) -> None:
    """A07."""
    headers = desk.bearer()
    desk.clock.push(IDLE_S)
    assert desk.fault(desk.ask("/items/S-1/contaminations", {"cause": "used"}, headers)) == (401, "not-signed-in")


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"},
        {"Sec-Fetch-Site": "same-site", "Origin": "https://other.testserver"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "none"},
        {"Sec-Fetch-Site": "cross-site", "Origin": HOST},
    ],
)
def test_a_cookie_writes_only_from_our_own_pages(desk: Desk, headers: dict[str, str]) -> None:
    """OWASP ASVS 5.0, 3.5.1 to 3.5.3."""
    desk.sign_in()
    assert desk.fault(desk.ask("/items/S-1/contaminations", {"cause": "used"}, headers)) == (403, "wrong-origin")
    assert desk.ask("/items/S-1/contaminations", {"cause": "used"}, SAME).status_code == 200
    assert desk.client.get("/v1/sessions/current", headers=headers).status_code == 200


def test_another_site_signs_nobody_in(desk: Desk) -> None:
    body = {"badge": ANNA.badge, "pin": ANNA.pin, "station": STATION}
    answer = desk.client.post("/v1/sessions", json=body, headers={"Sec-Fetch-Site": "cross-site"})
    assert desk.fault(answer) == (403, "wrong-origin")


def test_an_entry_says_how_its_person_was_known(desk: Desk) -> None:
    headers = desk.bearer()
    desk.ask("/items/S-1/contaminations", {"cause": "used"}, headers)
    last = entries(desk.department, "item:S-1")[-1]
    assert (last.envelope.actor, last.envelope.identity, last.envelope.station) == (ANNA.person, "signed-in", STATION)
    held = {"cause": "looked odd", "sort": "administrative", "owner": "supervisor", "pin": ANNA.pin}
    desk.ask("/items/S-1/holds", held, headers)
    assert entries(desk.department, "item:S-1")[-1].envelope.identity == "signed"


def test_a_signature_needs_the_pin_in_the_same_request(desk: Desk) -> None:
    """21 CFR 11.200(a)(1)(i): the first signing takes all components, later ones one that only the person can give."""
    headers = desk.bearer()
    without = desk.ask("/items/S-1/release", {}, headers)
    assert desk.fault(without) == (401, "not-signed-in")
    wrong = desk.ask("/items/S-1/release", {"pin": WRONG}, headers)
    assert desk.fault(wrong) == (401, "not-signed-in")
    told = desk.ask("/items/S-1/release", {"pin": ANNA.pin}, headers)
    assert desk.fault(told)[1] in {"refused", "held"}, "the rules speak now"


def test_a_second_person_is_known_by_badge_and_pin_too(desk: Desk) -> None:
    headers, one = desk.bearer(), {"number": 1, "reason": "typed wrongly", "pin": ANNA.pin}
    assert desk.fault(desk.ask("/items/S-1/corrections", one, headers))[0] == 401
    only_badge = one | {"second_badge": BEN.badge}
    assert desk.fault(desk.ask("/items/S-1/corrections", only_badge, headers))[0] == 401
    wrong = only_badge | {"second_pin": WRONG}
    assert desk.fault(desk.ask("/items/S-1/corrections", wrong, headers))[0] == 401
    right = desk.ask("/items/S-1/corrections", only_badge | {"second_pin": BEN.pin}, headers)
    assert right.status_code in {200, 409, 428}, right.text


def test_consent_from_elsewhere_is_signed(desk: Desk) -> None:
    """E36: a supervisor on call agrees at their own station, with their own badge and PIN."""
    headers = desk.bearer(BEN)
    asked = {"subject": "item:S-1", "to": "override", "about": "M09"}
    assert desk.fault(desk.ask("/consents", asked, headers)) == (401, "not-signed-in")
    assert desk.ask("/consents", asked | {"pin": BEN.pin}, headers).status_code == 200
    last = entries(desk.department, "consent:item:S-1")[-1]
    assert (last.envelope.actor, last.envelope.identity) == (BEN.person, "signed")


def token(desk: Desk, **more: Any) -> dict[str, str]:
    """Returns the header of a program with a token."""
    body = {
        "token": f"T-{desk.keys}",
        "label": "the washer",
        "scopes": ["scans:write", "loads:result", "items:read"],
        "sites": ["LMG"],
        "until": "2026-09-01T00:00:00Z",
        "pin": DARA.pin,
        "second_badge": ANNA.badge,
        "second_pin": ANNA.pin,
    } | more
    answer = desk.ask("/tokens", body, desk.bearer(DARA))
    assert answer.status_code == 200, answer.text
    return {"Authorization": f"Bearer {answer.json()['secret']}"}


def test_a_token_is_issued_listed_and_withdrawn_and_shown_once(desk: Desk) -> None:
    headers = token(desk, token="WASHER-1")  # noqa: S106 - its id
    listed = desk.client.get("/v1/tokens", headers=desk.bearer(DARA))
    assert [(one["token"], one["counts"]) for one in listed.json()] == [("WASHER-1", True)]
    assert headers["Authorization"][-20:] not in listed.text
    fact = ("/items/S-1/contaminations", {"cause": "used", "station": STATION})
    assert desk.ask(*fact, headers).status_code == 200
    assert entries(desk.department, "item:S-1")[-1].envelope.identity == "token:WASHER-1"
    gone = desk.ask("/tokens/WASHER-1", {"reason": "sold"}, desk.bearer(DARA), "DELETE")
    assert gone.status_code == 200, gone.text
    assert desk.fault(desk.ask(*fact, headers)) == (401, "not-signed-in")


def test_a_token_does_what_its_scopes_say_and_nothing_that_is_signed(desk: Desk) -> None:
    headers = token(desk)
    here = {"station": STATION}
    assert desk.fault(desk.ask("/items/S-1/holds", {"cause": "x", "sort": "administrative"} | here, headers))[0] == 403
    for path in ("/items/S-1/release", "/items/S-1/condemn"):
        assert desk.fault(desk.ask(path, here | {"pin": ANNA.pin, "badge": ANNA.badge}, headers)) == (
            403,
            "not-allowed",
        )
    answer = desk.ask("/tokens", {"token": "X"} | here, headers)
    assert desk.fault(answer) == (403, "not-allowed")


def test_a_stream_ends_with_the_session_or_the_token_that_opened_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """I17: whatever was opened before, nothing more is handed over; a stream does not keep a session alive either."""
    streams = list[AsyncIterator[bytes]]()

    def opened(events: AsyncIterator[bytes], *_: object) -> Response:
        streams.append(events)
        return Response()

    async def handed(events: AsyncIterator[bytes]) -> bytes | None:
        return await anext(events, None)

    def stream(headers: dict[str, str]) -> AsyncIterator[bytes]:
        assert desk.client.get("/v1/entries/stream?after=0", headers=headers).status_code == 200
        return streams.pop()

    monkeypatch.setattr(feed, "EventStream", opened)
    program = token(desk, token="FEED-1", scopes=["feed:read"])  # noqa: S106 - its id
    session = desk.bearer(DARA)
    assert all(asyncio.run(handed(stream(one))) is not None for one in (session, program))
    ended = [stream(session), stream(program)]
    assert desk.ask("/tokens/FEED-1", {"reason": "lost"}, session, "DELETE").status_code == 200
    assert desk.client.delete("/v1/sessions/current", headers=session).status_code == 204
    assert [asyncio.run(handed(one)) for one in ended] == [None, None]
    idle = stream(desk.bearer(DARA))
    desk.clock.push(IDLE_S)
    assert asyncio.run(handed(idle)) is None


def test_an_expired_token_counts_no_more(desk: Desk) -> None:
    headers = token(desk, until="2026-03-06T08:00:00Z")
    desk.clock.push(3_600)
    assert desk.fault(desk.ask("/items/S-1/contaminations", {"cause": "used", "station": STATION}, headers))[0] == 401


def test_an_office_chooses_a_first_pin_and_the_person_an_own_one(desk: Desk) -> None:
    given = {"first_pin": "40718263", "pin": DARA.pin}
    alone = desk.ask(f"/people/{ANNA.person}/pin", given, desk.bearer(DARA), "PUT")
    assert desk.fault(alone)[0] == 401, "one alone could take over whoever's PIN they set"
    second = {"second_badge": BEN.badge, "second_pin": BEN.pin}
    answer = desk.ask(f"/people/{ANNA.person}/pin", given | second, desk.bearer(DARA), "PUT")
    assert answer.status_code == 200, answer.text
    assert desk.fault(desk.sign_in(pin="40718263")) == (403, "not-allowed")
    assert desk.sign_in(pin="40718263", new_pin="77310264").status_code == 201
    told = repr(entries(desk.department, f"access:{ANNA.person}"))
    assert "40718263" not in told
    assert "77310264" not in told


def test_a_locked_person_is_let_in_by_a_supervisor(desk: Desk) -> None:
    for _ in range(FREE):
        desk.sign_in(pin=WRONG)
    body = {"reason": "seen in person", "pin": BEN.pin}
    assert desk.ask(f"/people/{ANNA.person}/unlock", body, desk.bearer(BEN)).status_code == 200
    assert desk.sign_in().status_code == 201


def test_the_first_run_lets_in_two_administrators(desk: Desk) -> None:
    with transaction(desk.department.ledger) as work:
        for who in (ANNA, BEN, DARA):
            work.credentials.drop_pin(who.person)
    code = first_run.offer(desk.department.ledger, desk.clock)
    people = [
        {"person": "P-X", "name": "Ines Vale", "badge": "B-X", "pin": "60418275"},
        {"person": "P-Y", "name": "Jorn Tarn", "badge": "B-Y", "pin": "93572048"},
    ]
    spoilt = [people[0] | {"name": "Ines\x1b[2J"}, people[1]]
    hidden = desk.client.post("/v1/first-run", json={"code": code, "administrators": spoilt})
    assert desk.fault(hidden) == (422, "invalid"), "a name moves no terminal"
    wrong = desk.client.post("/v1/first-run", json={"code": "AAAAA", "administrators": people})
    assert desk.fault(wrong) == (401, "not-signed-in")
    answer = desk.client.post("/v1/first-run", json={"code": code, "administrators": people})
    assert answer.status_code == 204, answer.text
    assert desk.sign_in(Somebody("P-X", "B-X", "60418275")).status_code == 201
    again = desk.client.post("/v1/first-run", json={"code": code, "administrators": people})
    assert desk.fault(again) == (401, "not-signed-in")
