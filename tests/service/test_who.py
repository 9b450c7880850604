"""What only a request's own members tell of who asks: PINs, a badge that a token names, a station of another site."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pytest
from starlette.requests import Request

from reprocess.department import Department
from reprocess.errors import NotAllowedError, NotSignedInError
from reprocess.record import words
from reprocess.rules.permissions import CLAIM, SCOPES
from reprocess.service import who
from reprocess.service.served import Served
from reprocess.service.who import Caller, Signs, signs
from reprocess.signing_in.sessions import Door
from tests.signing_in.conftest import clock, department, door  # noqa: F401 - fixtures of both rooms
from tests.signing_in.people import ANNA, BEN, STATION, WRONG, enrolled

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
