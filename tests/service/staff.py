"""Further people of the small department, with PINs, and what they wear. Every name is invented."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from reprocess.engine.enrolling import Enrol
from reprocess.gathering import bench as gathered
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.record.entry import Draft
from reprocess.record.words import BadgeGiven, ItemIssued, ItemReturned, PersonRegistered
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.rules.permissions import scopes_of
from reprocess.service.who import Caller
from reprocess.signing_in.pins import Pins
from reprocess.station import envelope_of
from tests.service.conftest import Bench

PIN = "49271835"
SIGNED: dict[str, Any] = {"pin": PIN}
BOTH: dict[str, Any] = {"pin": PIN, "second_badge": "B-B", "second_pin": PIN}
HEALTH, PROGRAMME, RISK = "occupational-health", "programme-administrator", "risk-management"


def with_pins(bench: Bench, *people: str) -> Bench:
    """Lets people sign; their hashes are cheap, so that the tests do not wait for them."""
    pins = Pins(bench.department.ledger.key, memory_kib=8)
    with transaction(bench.department.ledger) as work:
        for one in people:
            work.credentials.keep_pin(one, Pin(pins.kept(PIN), 0, must_change=False))
    return bench


def joined(bench: Bench, person: str, name: str, *roles: str, sites: tuple[str, ...] = ()) -> Caller:
    """Returns somebody new, signed in at the bench; the badge is the person's id with a B before it."""
    office = bench.department.station("LMG-1", badge="B-A")
    assert office.enrol(Enrol(f"person:{person}", PersonRegistered(name=name, sites=sites, roles=roles))).accepted
    assert office.enrol(Enrol(f"person:{person}", BadgeGiven(badge=f"B-{person}"))).accepted
    with_pins(bench, person)
    return Caller(
        "person",
        person=person,
        badge=f"B-{person}",
        station="LMG-1",
        roles=frozenset(roles),
        scopes=scopes_of(roles),
        sites=frozenset(sites),
    )


def token(*scopes: str, sites: tuple[str, ...] = ()) -> Caller:
    """Returns a program with a token of these scopes."""
    which = "T-1"
    return Caller("token", token=which, scopes=frozenset(scopes), sites=frozenset(sites), identity="token")


def worn(bench: Bench, wearer: str, item: str) -> None:
    """Writes past the desk that somebody had an item for an hour; what issuing it asks is tested elsewhere."""
    for body in (
        ItemIssued(cycle=bench.department.item(item).cycle, wearer=wearer, place="ED", purpose="care"),
        ItemReturned(place="ED", wearer=wearer),
    ):
        bench.clock.push(3600)
        with transaction(bench.department.ledger) as work:
            here = gathered(work, bench.clock.now(), "LMG-1", "B-A", None)
            envelope = envelope_of(here, bench.clock.new_id(), "d")
            prepared = work.prepare([Draft(f"item:{item}", body)], envelope, iter([bench.clock.new_id()]))
            work.write(prepared, as_text(Answer(Verdict.ACCEPTED, f"item:{item}", "write")))


def elsewhere(caller: Caller) -> Caller:
    """Returns the same caller, limited to a site where nothing of the small department is."""
    return replace(caller, sites=frozenset({"SAL"}))


def etag(response: Any) -> dict[str, str]:
    """Returns the header with which a change names the version of a response."""
    return {"If-Match": response.headers["etag"]}
