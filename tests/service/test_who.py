"""What only a request's own members tell of who asks: PINs, a badge that a token names, a station of another site."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any

import pytest
from starlette.requests import Request

from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotAllowedError, NotSignedInError, TooManyTriesError
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.rules.guessing import IDLE_S, STATION_TRIES
from reprocess.rules.permissions import CLAIM, PERMISSIONS, SCOPES
from reprocess.service import who
from reprocess.service.problems import ProblemError
from reprocess.service.served import Served
from reprocess.service.who import Caller, Screen, Signs, signs
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs
from reprocess.signing_in.sessions import Door
from reprocess.station import Call
from reprocess.terms import SECOND_US
from tests.signing_in.conftest import clock, department, door  # noqa: F401 - fixtures of both rooms
from tests.signing_in.people import ANNA, BEN, OTHER, STATION, WRONG, enrolled, second_station

SUPERVISOR = Caller("person", ANNA.person, ANNA.badge, STATION, frozenset({"supervisor"}))


@dataclass
class _State:
    served: Served


@dataclass
class _App:
    state: _State = field(default_factory=lambda: _State(None))  # type: ignore[arg-type]


@pytest.fixture
def request_(department: Department, door: Door) -> Request:  # noqa: F811
    """Returns a request to a node whose door is that of the test."""
    app = _App(_State(Served(department, None, None, parts={"door": door})))  # type: ignore[arg-type]
    scope: dict[str, Any] = {"type": "http", "method": "POST", "headers": [], "app": app, "client": ("192.0.2.1", 1)}
    enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
    enrolled(department, "station:LMV-1", words.StationOpened(title="Bench", site="LMV", side="any"))
    return Request(scope)


def test_a_plain_scan_is_signed_in_and_one_with_the_pin_is_signed(request_: Request) -> None:
    assert signs(request_, SUPERVISOR, "do-step", Signs()) == "signed-in"
    assert signs(request_, SUPERVISOR, "do-step", Signs(pin=ANNA.pin)) == "signed"
    with pytest.raises(NotSignedInError):
        signs(request_, SUPERVISOR, "do-step", Signs(pin=WRONG))


def test_what_is_signed_is_refused_without_the_pin_and_with_somebody_elses(request_: Request) -> None:
    for given in (Signs(), Signs(pin=BEN.pin), Signs(second_badge=BEN.badge, second_pin=BEN.pin)):
        with pytest.raises(NotSignedInError):
            signs(request_, SUPERVISOR, "release", given)
    assert signs(request_, SUPERVISOR, "release", Signs(pin=ANNA.pin)) == "signed"


def test_an_override_is_an_operation_of_its_own(request_: Request) -> None:
    technician = Caller("person", ANNA.person, ANNA.badge, STATION, frozenset({"technician"}))
    with pytest.raises(NotAllowedError):
        signs(request_, technician, "override", Signs(pin=ANNA.pin))
    assert signs(request_, SUPERVISOR, "override", Signs(pin=ANNA.pin)) == "signed"


def test_two_sign_what_takes_two(request_: Request) -> None:
    both = Signs(ANNA.pin, BEN.badge, BEN.pin)
    assert signs(request_, SUPERVISOR, "correct", both) == "signed"
    for missing in (Signs(ANNA.pin), Signs(ANNA.pin, BEN.badge), Signs(ANNA.pin, BEN.badge, WRONG)):
        with pytest.raises(NotSignedInError):
            signs(request_, SUPERVISOR, "correct", missing)


def token(scopes: frozenset[str] = SCOPES, sites: frozenset[str] = frozenset()) -> Caller:
    return Caller("token", scopes=scopes, sites=sites, token="T-1", identity="token")  # noqa: S106 - its id


def test_a_badge_that_a_token_names_is_claimed_and_needs_its_scope(request_: Request) -> None:
    named = Signs(badge=ANNA.badge, station=STATION)
    assert signs(request_, token(), "do-step", named) == "claimed:T-1"
    assert signs(request_, token(), "contaminate", Signs(station=STATION)) == "token"
    for refused in (named, Signs(second_badge=BEN.badge, station=STATION)):
        with pytest.raises(NotAllowedError):
            signs(request_, token(SCOPES - {CLAIM}), "contaminate", refused)
    with pytest.raises(NotAllowedError):
        signs(request_, token(), "do-step", Signs(station=STATION))
    with pytest.raises(NotAllowedError):
        signs(request_, token(), "release", Signs(ANNA.pin, badge=ANNA.badge, station=STATION))


def test_a_token_does_for_a_person_only_what_that_person_may(request_: Request, department: Department) -> None:  # noqa: F811
    """A08: an auditor writes nothing, and an administrator of the system has no process rights, claimed or not."""
    for person, role in (("P-Q", "auditor"), ("P-S", "system-administrator"), ("P-T", "technician")):
        body = words.PersonRegistered(name="Cleo Marsh", sites=(), roles=(role,))
        enrolled(department, f"person:{person}", body)
        enrolled(department, f"person:{person}", words.BadgeGiven(badge=f"B-{person}"))
    for badge, operation in (("B-P-Q", "do-step"), ("B-P-S", "make-solution"), ("B-P-T", "commission")):
        with pytest.raises(NotAllowedError):
            signs(request_, token(), operation, Signs(badge=badge, station=STATION))
    assert signs(request_, token(), "do-step", Signs(badge="B-P-T", station=STATION)) == "claimed:T-1"


def test_another_sites_token_does_nothing_here(request_: Request) -> None:
    """D10."""
    vale = token(sites=frozenset({"LMV"}))
    assert signs(request_, vale, "contaminate", Signs(station="LMV-1")) == "token"
    with pytest.raises(NotAllowedError):
        signs(request_, vale, "contaminate", Signs(station=STATION))
    with pytest.raises(NotAllowedError):
        who.must_see(vale, "LMG")
    who.must_see(token(), "LMG")


def test_an_operation_without_a_row_is_nobodys(request_: Request) -> None:
    for caller in (SUPERVISOR, token()):
        with pytest.raises(NotAllowedError):
            signs(request_, caller, "open-the-door", Signs(ANNA.pin))


def screen(department: Department, station: str = STATION, name: str = "SCREEN-1") -> str:  # noqa: F811
    """Returns the secret of a new screen."""
    until_us = department.clock.now().wall_us + 86_400 * SECOND_US
    asked = asking.IssueToken(name, "left of the hatch", ("screens:show",), (), until_us, station)

    def take(work: object) -> Answer:
        outcome = department.desk.take_within(work, Call(asked, STATION, ANNA.badge, None, name))  # type: ignore[arg-type]
        assert isinstance(outcome, Answer)
        assert outcome.accepted, outcome
        return outcome

    _, secret = Programs(department.ledger, department.clock).issue(name, take, tokens.SCREEN)
    assert secret is not None
    return secret


OWN = {"origin": "https://larkmoor.example", "host": "larkmoor.example", "sec-fetch-site": "same-origin"}


def from_(request: Request, method: str = "POST", **headers: str) -> Request:
    """Returns a request like another one with these headers."""
    raw = [(name.encode(), value.encode()) for name, value in (OWN | headers).items()]
    return Request({**request.scope, "headers": raw, "method": method, "state": {}})


def at_screen(request: Request, secret: str, session: str | None = None) -> Request:
    """Returns a request of a browser that is a screen, where somebody may be signed in."""
    own = f"; __Host-session={session}" if session is not None else ""
    return from_(request, cookie=f"__Host-screen={secret}{own}")


def caller_of(request: Request) -> Caller:
    return asyncio.run(who.caller_or_screen(request))


def test_a_screen_is_known_by_its_cookie_or_its_header(request_: Request, department: Department) -> None:  # noqa: F811
    secret = screen(department)
    told = Screen("SCREEN-1", STATION, "LMG", "left of the hatch")
    assert who.screen_of(at_screen(request_, secret)) == told
    assert who.screen_of(from_(request_, authorization=f"Bearer {secret}")) == told
    assert who.screen_of(request_) is None
    for other in ("", "rpn_", tokens.new(tokens.SCREEN)):
        assert who.screen_of(at_screen(request_, other)) is None
        assert who.screen_of(from_(request_, authorization=f"Bearer {other}")) is None


def test_on_loopback_without_tls_its_cookie_has_a_plain_name(request_: Request, department: Department) -> None:  # noqa: F811
    secret = screen(department)
    request_.app.state.served.parts["plain"] = True
    assert who.screen_of(from_(request_, cookie=f"screen={secret}")) is not None
    assert who.screen_of(at_screen(request_, secret)) is None


def test_a_withdrawn_screen_is_none(request_: Request, department: Department) -> None:  # noqa: F811
    request = at_screen(request_, screen(department))
    withdraw = asking.WithdrawToken("SCREEN-1", "the tablet was lost")
    assert department.station(STATION, badge=BEN.badge).ask(withdraw).accepted
    assert who.screen_of(request) is None
    with pytest.raises(NotSignedInError):
        caller_of(request)


def test_another_sites_page_is_no_screen(request_: Request, department: Department) -> None:  # noqa: F811
    """OWASP ASVS 5.0, 3.5.1 to 3.5.3."""
    cookie = f"__Host-screen={screen(department)}"
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        with pytest.raises(ProblemError):
            who.screen_of(from_(request_, cookie=cookie, **headers))
    assert who.screen_of(from_(request_, "GET", cookie=cookie, **{"sec-fetch-site": "cross-site"})) is not None


def test_whoever_is_signed_in_at_a_screen_asks_and_else_the_screen(request_: Request, department: Department) -> None:  # noqa: F811
    secret, door_ = screen(department), who.door_of(request_.app.state.served)
    session, _ = door_.sign_in(ANNA.badge, ANNA.pin, STATION)
    both = at_screen(request_, secret, session)
    assert (caller_of(both).kind, caller_of(both).person) == ("person", ANNA.person)
    department.clock.push(IDLE_S)  # type: ignore[attr-defined]
    shows = caller_of(both)
    assert (shows.kind, shows.person, shows.station, shows.token) == ("screen", None, STATION, "SCREEN-1")
    assert (set(shows.sites), set(shows.scopes), shows.identity) == ({"LMG"}, {"screens:show"}, "")
    assert both.state.caller == shows
    assert not shows.names_wearers
    with pytest.raises(NotSignedInError):
        asyncio.run(who.caller(both))
    with pytest.raises(NotSignedInError):
        caller_of(request_)


def test_a_screen_reads_what_it_shows_and_signs_nothing(request_: Request, department: Department) -> None:  # noqa: F811
    shows = caller_of(at_screen(request_, screen(department)))
    for operation, row in PERMISSIONS.items():
        assert (who.may_of(shows, operation) is None) == row.screen, operation
    for operation in ("do-step", "contaminate", "release"):
        with pytest.raises(NotAllowedError):
            signs(request_, shows, operation, Signs(ANNA.pin, badge=ANNA.badge, station=STATION))
    who.must_see(shows, "LMG")
    with pytest.raises(NotAllowedError):
        who.must_see(shows, "LMV")


def test_a_badge_alone_opens_a_session_at_a_screen_and_nowhere_else(request_: Request, department: Department) -> None:  # noqa: F811
    """Rule of the shift: it takes the secret of the screen of that very station."""
    second_station(department)
    here, there = screen(department), screen(department, OTHER, "SCREEN-2")
    who.door_of(request_.app.state.served).sign_in(ANNA.badge, ANNA.pin, STATION)
    _, known = who.by_badge(at_screen(request_, there), ANNA.badge)
    assert (known.person.person, known.session.station) == (ANNA.person, OTHER)
    _, known = who.by_badge(from_(request_, authorization=f"Bearer {here}"), ANNA.badge, STATION)
    assert known.session.station == STATION
    for request in (request_, at_screen(request_, tokens.new(tokens.SCREEN)), at_screen(request_, there)):
        with pytest.raises(NotSignedInError, match="no enrolled screen"):
            who.by_badge(request, ANNA.badge, STATION)


def test_badges_are_scanned_no_oftener_than_a_source_may_try(request_: Request, department: Department) -> None:  # noqa: F811
    request = at_screen(request_, screen(department))
    for _ in range(60):
        with pytest.raises(NotSignedInError):
            who.by_badge(request, "NOBODY")
    with pytest.raises(TooManyTriesError):
        who.by_badge(request, "NOBODY")


def test_a_second_person_in_the_shift_is_named_by_badge_at_the_screen(
    request_: Request,
    department: Department,  # noqa: F811
) -> None:
    second_station(department)
    here, there = at_screen(request_, screen(department)), at_screen(request_, screen(department, OTHER, "SCREEN-2"))
    beside = Signs(second_badge=BEN.badge)
    with pytest.raises(NotSignedInError):
        signs(here, SUPERVISOR, "do-step", beside)
    who.door_of(request_.app.state.served).sign_in(BEN.badge, BEN.pin, OTHER)
    assert signs(here, SUPERVISOR, "do-step", beside) == "signed-in"
    assert signs(here, SUPERVISOR, "do-step", Signs(ANNA.pin, BEN.badge)) == "signed"
    for elsewhere in (request_, there):
        with pytest.raises(NotSignedInError):
            signs(elsewhere, SUPERVISOR, "do-step", beside)


def test_whoever_signs_gives_the_pin_at_a_screen_too(request_: Request, department: Department) -> None:  # noqa: F811
    """21 CFR 11.200(a)(1): two signatures are two PINs."""
    here = at_screen(request_, screen(department))
    who.door_of(request_.app.state.served).sign_in(BEN.badge, BEN.pin, STATION)
    for operation in [name for name, row in PERMISSIONS.items() if "supervisor" in row.roles and row.signed]:
        with pytest.raises(NotSignedInError):
            signs(here, SUPERVISOR, operation, Signs(ANNA.pin, BEN.badge))
        with pytest.raises(NotSignedInError):
            signs(here, SUPERVISOR, operation, Signs(second_badge=BEN.badge, second_pin=BEN.pin))
    assert signs(here, SUPERVISOR, "correct", Signs(ANNA.pin, BEN.badge, BEN.pin)) == "signed"


def test_wrong_signatures_from_elsewhere_bar_no_screen(request_: Request, department: Department) -> None:  # noqa: F811
    here = at_screen(request_, screen(department))
    for number in range(STATION_TRIES):
        with pytest.raises(NotSignedInError):
            signs(request_, SUPERVISOR, "do-step", Signs(second_badge=f"NOBODY-{number}", second_pin=WRONG))
    with pytest.raises(TooManyTriesError):
        signs(request_, SUPERVISOR, "do-step", Signs(pin=ANNA.pin))
    assert signs(here, SUPERVISOR, "do-step", Signs(pin=ANNA.pin)) == "signed"
