"""The shift: after badge and PIN at a site, a badge alone opens sessions at its screens, and what ends that (A07, D10).

NIST SP 800-63B (draft of revision 4, section 2.2.3, from memory): at AAL2 somebody proves anew who they are after
twelve hours at the latest, and within them one factor is enough to go on.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError, TooManyTriesError, UnknownSubjectError
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.access import Access
from reprocess.rules.guessing import FREE, IDLE_S, LOCKED_AFTER, SHIFT_S, STATION_TRIES, WAITS_S
from reprocess.signing_in import offices
from reprocess.signing_in.sessions import GIVE_PIN, Door
from reprocess.station import Call
from reprocess.terms import SECOND_US
from tests.signing_in.people import ANNA, BEN, OTHER, STATION, WRONG, enrolled, entries, kinds, second_station

WARD = "LMV-1"


@pytest.fixture
def at_work(door: Door, department: Department, clock: StoryClock) -> str:
    """Returns Anna's session at the first of two stations, a minute after badge and PIN."""
    second_station(department)
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    clock.push(60)
    return secret


def refused(door: Door, badge: str = ANNA.badge, station: str = OTHER) -> None:
    with pytest.raises(NotSignedInError) as told:
        door.by_badge(badge, station)
    assert told.value.sentence == GIVE_PIN
    with pytest.raises(NotSignedInError):
        door.second_by_badge(badge, station)


def access(department: Department) -> Access:
    with looking(department.ledger) as read:
        state = read.state(f"access:{ANNA.person}")
    assert isinstance(state, Access)
    return state


def test_the_badge_alone_opens_a_session_at_another_station_of_the_site(
    door: Door, department: Department, at_work: str
) -> None:
    secret, known = door.by_badge(ANNA.badge, OTHER)
    assert (known.person.person, known.session.station, known.site.site) == (ANNA.person, OTHER, "LMG")
    assert door.whose(secret).person.person == ANNA.person
    last = entries(department, f"access:{ANNA.person}")[-1]
    assert last.body == words.SignedIn(proof="badge-in-shift")
    assert (last.envelope.actor, last.envelope.station, last.envelope.identity) == (ANNA.person, OTHER, "signed-in")
    with pytest.raises(NotSignedInError):
        door.whose(at_work)
    assert words.SignedOut(because="moved") in [one.body for one in entries(department, f"access:{ANNA.person}")]


def test_it_takes_the_place_of_whoever_is_at_the_station(door: Door, department: Department, at_work: str) -> None:
    del at_work
    first, _ = door.sign_in(BEN.badge, BEN.pin, OTHER)
    door.by_badge(ANNA.badge, OTHER)
    with pytest.raises(NotSignedInError):
        door.whose(first)
    assert entries(department, f"access:{BEN.person}")[-1].body == words.SignedOut(because="switched")
    door.by_badge(BEN.badge, OTHER)


def test_nobody_is_let_in_who_did_not_give_the_pin(door: Door, department: Department) -> None:
    """Nor is anything of it counted as a failure: no PIN was tried."""
    second_station(department)
    before = department.verify().entries
    for badge in (ANNA.badge, "NOBODY"):
        for _ in range(STATION_TRIES + 1):
            refused(door, badge, STATION)
    assert department.verify().entries == before
    assert access(department).failures == 0
    door.sign_in(ANNA.badge, ANNA.pin, STATION)


def test_the_sentence_is_short_and_says_what_to_do() -> None:
    assert all(len(one.split()) <= 12 for one in GIVE_PIN.split("."))
    assert "PIN" in GIVE_PIN


def test_five_idle_minutes_end_the_session_and_not_the_shift(door: Door, clock: StoryClock, at_work: str) -> None:
    clock.push(IDLE_S)
    with pytest.raises(NotSignedInError, match="five minutes"):
        door.whose(at_work)
    door.by_badge(ANNA.badge, STATION)


def test_the_shift_lasts_twelve_hours_from_the_pin_whatever_badges_were_scanned_since(
    door: Door, clock: StoryClock, department: Department
) -> None:
    second_station(department)
    door.sign_in(ANNA.badge, ANNA.pin, STATION)
    began_us = clock.now().wall_us
    clock.push(SHIFT_S - 1)
    secret, known = door.by_badge(ANNA.badge, OTHER)
    assert known.session.ends_us == began_us + 12 * 3_600 * SECOND_US, "a badge makes no session longer than the shift"
    clock.push(1)
    refused(door)
    with pytest.raises(NotSignedInError, match="twelve hours"):
        door.whose(secret)
    door.sign_in(ANNA.badge, ANNA.pin, STATION)
    door.by_badge(ANNA.badge, OTHER)


def test_a_clock_that_was_set_back_by_a_shift_ends_it(door: Door, clock: StoryClock, at_work: str) -> None:
    del at_work
    clock.wall_us -= SHIFT_S * SECOND_US + 60 * SECOND_US
    refused(door)


def test_signing_out_on_purpose_ends_the_shift(door: Door, at_work: str) -> None:
    door.sign_out(at_work)
    refused(door)
    refused(door, station=STATION)
    door.sign_in(ANNA.badge, ANNA.pin, STATION)
    door.by_badge(ANNA.badge, OTHER)


def test_signing_out_at_a_screen_ends_it_as_well(door: Door, at_work: str) -> None:
    del at_work
    secret, _ = door.by_badge(ANNA.badge, OTHER)
    door.sign_out(secret)
    refused(door)


def test_a_shift_at_one_site_is_none_at_another(door: Door, department: Department, at_work: str) -> None:
    del at_work
    enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
    enrolled(department, f"station:{WARD}", words.StationOpened(title="Bench", site="LMV", side="any"))
    refused(door, station=WARD)
    door.by_badge(ANNA.badge, OTHER)
    door.sign_in(ANNA.badge, ANNA.pin, WARD)
    refused(door)
    door.by_badge(ANNA.badge, WARD)


def _withdrawn(door: Door, department: Department) -> None:
    del door
    enrolled(department, f"person:{ANNA.person}", words.BadgeWithdrawn(badge=ANNA.badge, reason="lost"))


def _withdrawn_and_given_again(door: Door, department: Department) -> None:
    _withdrawn(door, department)
    enrolled(department, f"person:{ANNA.person}", words.BadgeGiven(badge=ANNA.badge))


def _left(door: Door, department: Department) -> None:
    del door
    enrolled(department, f"person:{ANNA.person}", words.PersonLeft(reason="moved away"))


def _other_pin(door: Door, department: Department) -> None:
    def take(work: object) -> object:
        call = Call(asking.SetPin(ANNA.person), STATION, BEN.badge, None, "first")
        return department.desk.take_within(work, call)  # type: ignore[arg-type]

    offices.set_first(department.ledger, department.clock, door.pins, ANNA.person, "40718263", take)  # type: ignore[arg-type]


def _locked(door: Door, department: Department) -> None:
    for tries in range(1, LOCKED_AFTER + 1):
        with pytest.raises(NotSignedInError):
            door.sign_in(ANNA.badge, WRONG, STATION)
        department.clock.push(WAITS_S[tries - FREE] if FREE <= tries < LOCKED_AFTER else 0)  # type: ignore[attr-defined]


def _locked_while_nobody_is_signed_in(door: Door, department: Department) -> None:
    secret, _ = door.by_badge(ANNA.badge, OTHER)
    department.clock.push(IDLE_S)  # type: ignore[attr-defined]
    with pytest.raises(NotSignedInError):
        door.whose(secret)
    _locked(door, department)


def _locked_and_unlocked(door: Door, department: Department) -> None:
    _locked(door, department)
    unlock = asking.UnlockSignIn(ANNA.person, "seen in person")
    assert department.station(STATION, badge=BEN.badge).ask(unlock).accepted


@pytest.mark.parametrize(
    "happens",
    [
        _withdrawn,
        _withdrawn_and_given_again,
        _left,
        _other_pin,
        _locked,
        _locked_while_nobody_is_signed_in,
        _locked_and_unlocked,
    ],
)
def test_what_ends_the_shift(
    door: Door, department: Department, at_work: str, happens: Callable[[Door, Department], None]
) -> None:
    del at_work
    door.by_badge(ANNA.badge, OTHER)
    happens(door, department)
    refused(door)
    refused(door, station=STATION)


def test_a_badge_that_was_given_during_the_shift_opens_nothing(
    door: Door, department: Department, at_work: str
) -> None:
    """Nobody who hands out badges acts as somebody else with a new one."""
    del at_work
    enrolled(department, f"person:{ANNA.person}", words.BadgeGiven(badge="B-A2"))
    refused(door, "B-A2")
    refused(door)
    door.sign_in("B-A2", ANNA.pin, STATION)
    door.by_badge("B-A2", OTHER)
    door.by_badge(ANNA.badge, OTHER)
    enrolled(department, f"person:{ANNA.person}", words.BadgeWithdrawn(badge="B-A2", reason="lost"))
    refused(door)


def test_single_sign_on_begins_no_shift(door: Door, department: Department) -> None:
    second_station(department)
    door.admit(ANNA.person, STATION)
    refused(door)


def test_wrong_pins_for_somebody_bar_their_badge_no_sooner_than_the_lock_and_it_counts_on(
    door: Door, department: Department, at_work: str
) -> None:
    """A badge scan between two guesses begins no count anew: whoever found a badge would have endless tries."""
    del at_work
    for tries in range(FREE):
        with pytest.raises(NotSignedInError):
            door.sign_in(ANNA.badge, WRONG, STATION)
        door.by_badge(ANNA.badge, OTHER)
        assert access(department).failures == tries + 1
    with pytest.raises(TooManyTriesError):
        door.sign_in(ANNA.badge, ANNA.pin, STATION)


def test_a_second_person_in_their_shift_is_known_by_the_badge(door: Door, department: Department, at_work: str) -> None:
    del at_work
    before = kinds(department, f"access:{ANNA.person}")
    assert door.second_by_badge(ANNA.badge, OTHER).person == ANNA.person
    assert kinds(department, f"access:{ANNA.person}") == before, "nobody is signed in or out by it"


def test_there_must_be_such_a_station(door: Door, at_work: str) -> None:
    del at_work
    with pytest.raises(UnknownSubjectError):
        door.by_badge(ANNA.badge, "NOWHERE")


@pytest.mark.parametrize("screen", [None, "SCREEN-1"])
def test_wrong_pins_at_a_screen_or_from_elsewhere_bar_themselves_alone(
    door: Door, department: Department, clock: StoryClock, screen: str | None
) -> None:
    """Whoever sits anywhere in the network and names a station keeps nobody from signing in at its own screen."""
    del department
    for number in range(STATION_TRIES):
        with pytest.raises(NotSignedInError):
            door.sign_in(f"NOBODY-{number}", WRONG, STATION, screen=screen)
        clock.push(1)
    with pytest.raises(TooManyTriesError):
        door.sign_in(ANNA.badge, ANNA.pin, STATION, screen=screen)
    with pytest.raises(TooManyTriesError):
        door.second(ANNA.badge, ANNA.pin, STATION, screen)
    for other in {None, "SCREEN-1", "SCREEN-2"} - {screen}:
        secret, known = door.sign_in(ANNA.badge, ANNA.pin, STATION, screen=other)
        door.sign(known, ANNA.pin, other)
        assert door.whose(secret).person.person == ANNA.person
    door.by_badge(ANNA.badge, STATION)


def test_a_failed_try_says_at_which_screen_it_was_made(door: Door, department: Department) -> None:
    for screen, told in ((None, "claimed"), ("SCREEN-1", "screen:SCREEN-1")):
        with pytest.raises(NotSignedInError):
            door.sign_in(ANNA.badge, WRONG, STATION, screen=screen)
        last = entries(department, f"access:{ANNA.person}")[-1]
        assert (last.kind, last.envelope.identity) == ("sign-in-failed", told)
