"""Sessions: how they begin, what ends them, and that nothing opens one but badge and PIN (A07, D10)."""

from __future__ import annotations

import hashlib

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotAllowedError, NotSignedInError, UnknownSubjectError, WrongUseError
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.rules.guessing import FREE, IDLE_S, SHIFT_S
from reprocess.signing_in import offices
from reprocess.signing_in.sessions import Door
from reprocess.station import Call
from tests.signing_in.people import ANNA, BEN, OTHER, STATION, WRONG, enrolled, entries, kinds, second_station


def over(door: Door, secret: str) -> str:
    with pytest.raises(NotSignedInError) as told:
        door.whose(secret)
    return told.value.sentence


def test_badge_and_pin_begin_a_session_of_one_person_at_one_station(door: Door, department: Department) -> None:
    secret, known = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    assert (known.person.person, known.session.station, known.site.site) == (ANNA.person, STATION, "LMG")
    assert door.whose(secret).person.person == ANNA.person
    last = entries(department, f"access:{ANNA.person}")[-1]
    assert last.body == words.SignedIn(proof="badge-and-pin")
    assert (last.envelope.actor, last.envelope.station, last.envelope.identity) == (ANNA.person, STATION, "signed-in")


def test_a_copy_of_the_database_lets_nobody_in(door: Door, department: Department) -> None:
    """Neither a PIN nor a session's id stands anywhere in it, only what cannot be turned back."""
    secret, known = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    department.ledger.settle()
    kept = b"".join(one.read_bytes() for one in department.ledger.path.parent.iterdir() if one.suffix != ".key")
    assert secret.encode() not in kept
    assert ANNA.pin.encode() not in kept
    assert hashlib.sha256(secret.encode()).hexdigest().encode() in kept
    assert over(door, known.session.digest)


def test_each_signing_in_has_a_new_id_and_takes_none_from_outside(door: Door) -> None:
    """Fixation: the id before is not the id after, and counts no more."""
    first, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    second, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    assert first != second
    assert over(door, first)
    assert door.whose(second).person.person == ANNA.person
    assert over(door, "rps_" + "0" * 49)
    assert over(door, "")


def test_a_session_that_nobody_uses_ends_after_five_minutes(
    door: Door, clock: StoryClock, department: Department
) -> None:
    """A07."""
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    for _ in range(10):
        clock.push(IDLE_S - 1)
        door.whose(secret)
    clock.push(IDLE_S)
    assert "five minutes" in over(door, secret)
    assert entries(department, f"access:{ANNA.person}")[-1].body == words.SignedOut(because="idle")
    assert over(door, secret)
    assert kinds(department, f"access:{ANNA.person}").count("signed-out") == 1


def test_a_session_ends_after_a_shift_however_busy(door: Door, clock: StoryClock) -> None:
    """A07."""
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    for _ in range(SHIFT_S // 240 - 1):
        clock.push(240)
        door.whose(secret)
    clock.push(240)
    assert "twelve hours" in over(door, secret)


def test_somebody_else_at_the_station_ends_the_first_session(door: Door, department: Department) -> None:
    first, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    second, _ = door.sign_in(BEN.badge, BEN.pin, STATION)
    assert over(door, first)
    assert door.whose(second).person.person == BEN.person
    assert entries(department, f"access:{ANNA.person}")[-1].body == words.SignedOut(because="switched")


def test_one_person_is_at_one_station(door: Door, department: Department) -> None:
    second_station(department)
    first, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    door.sign_in(ANNA.badge, ANNA.pin, OTHER)
    assert over(door, first)
    assert words.SignedOut(because="moved") in [one.body for one in entries(department, f"access:{ANNA.person}")]


def test_signing_out_ends_it_for_ever(door: Door) -> None:
    """Replay: the id that was signed out opens nothing."""
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    door.sign_out(secret)
    door.sign_out(secret)
    assert over(door, secret)


def test_a_lost_badge_ends_it_at_once(door: Door, department: Department) -> None:
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    enrolled(department, f"person:{ANNA.person}", words.BadgeWithdrawn(badge=ANNA.badge, reason="lost"))
    assert "withdrawn" in over(door, secret)
    with pytest.raises(NotSignedInError):
        door.sign_in(ANNA.badge, ANNA.pin, STATION)


def test_whoever_left_is_out_at_once(door: Door, department: Department) -> None:
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    enrolled(department, f"person:{ANNA.person}", words.PersonLeft(reason="moved away"))
    assert over(door, secret)
    with pytest.raises(NotSignedInError):
        door.sign_in(ANNA.badge, ANNA.pin, STATION)
    assert entries(department, f"access:{ANNA.person}")[-1].body == words.SignInFailed(because="left")


def test_nobody_signs_in_at_another_site(door: Door, department: Department) -> None:
    enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
    enrolled(department, "station:LMV-1", words.StationOpened(title="Bench", site="LMV", side="any"))
    body = words.PersonRegistered(name="Cleo Marsh", sites=("LMV",), roles=("technician",))
    enrolled(department, "person:P-C", body)
    enrolled(department, "person:P-C", words.BadgeGiven(badge="B-C"))
    _first_pin(door, department, "P-C", "60418275")
    with pytest.raises(NotAllowedError):
        door.sign_in("B-C", "60418275", STATION, new_pin="93572048")
    door.sign_in("B-C", "60418275", "LMV-1", new_pin="93572048")
    with pytest.raises(UnknownSubjectError):
        door.sign_in("B-C", "93572048", "NOWHERE")


def _first_pin(door: Door, department: Department, person: str, pin: str, badge: str = BEN.badge) -> Answer:
    def take(work: object) -> Answer:
        call = Call(asking.SetPin(person), STATION, badge, None, f"first-{person}-{badge}")
        outcome = department.desk.take_within(work, call)  # type: ignore[arg-type]
        assert isinstance(outcome, Answer)
        return outcome

    return offices.set_first(department.ledger, department.clock, door.pins, person, pin, take)


def test_a_pin_that_somebody_else_chose_opens_nothing_but_the_choice_of_an_own_one(
    door: Door, department: Department
) -> None:
    secret, _ = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    assert _first_pin(door, department, ANNA.person, "40718263").accepted
    assert over(door, secret)
    with pytest.raises(NotAllowedError):
        door.sign_in(ANNA.badge, "40718263", STATION)
    with pytest.raises(NotAllowedError):
        door.second(ANNA.badge, "40718263", STATION)
    with pytest.raises(WrongUseError):
        door.sign_in(ANNA.badge, "40718263", STATION, new_pin="12345678")
    door.sign_in(ANNA.badge, "40718263", STATION, new_pin="77310264")
    door.sign_in(ANNA.badge, "77310264", STATION)
    set_by = [one.envelope.actor for one in entries(department, f"access:{ANNA.person}") if one.kind == "pin-set"]
    assert set_by == [BEN.person, ANNA.person]


def test_no_technician_chooses_a_pin_for_others(door: Door, department: Department) -> None:
    body = words.PersonRegistered(name="Cleo Marsh", sites=("LMG",), roles=("technician",))
    enrolled(department, "person:P-C", body)
    enrolled(department, "person:P-C", words.BadgeGiven(badge="B-C"))
    refused = _first_pin(door, department, ANNA.person, "40718263", badge="B-C")
    assert refused.rules() == ("A08",)
    door.sign_in(ANNA.badge, ANNA.pin, STATION)


def test_a_signature_compares_the_pin_once_more(door: Door, department: Department) -> None:
    secret, known = door.sign_in(ANNA.badge, ANNA.pin, STATION)
    door.sign(known, ANNA.pin)
    for _ in range(FREE):
        with pytest.raises(NotSignedInError):
            door.sign(known, WRONG)
    last = entries(department, f"access:{ANNA.person}")[-1]
    assert last.body == words.SignInFailed(because="pin", signing=True)
    assert door.whose(secret).person.person == ANNA.person, "five failures make one wait, they end nothing"


def test_single_sign_on_lets_in_who_is_here_and_nobody_else(door: Door, department: Department) -> None:
    secret, known = door.admit(ANNA.person, STATION)
    assert known.session.badge == ANNA.badge
    assert door.whose(secret).person.person == ANNA.person
    assert entries(department, f"access:{ANNA.person}")[-1].body == words.SignedIn(proof="single-sign-on")
    with pytest.raises(NotSignedInError):
        door.admit("P-NOBODY", STATION)
    enrolled(department, f"person:{ANNA.person}", words.PersonLeft(reason="moved away"))
    with pytest.raises(NotSignedInError):
        door.admit(ANNA.person, STATION)


def test_it_is_kept_now_and_then_only_that_a_session_was_used(
    door: Door, clock: StoryClock, department: Department
) -> None:
    secret, known = door.sign_in(ANNA.badge, ANNA.pin, STATION)

    def seen() -> int:
        with looking(department.ledger) as read:
            session = read.credentials.session(known.session.digest)
        assert session is not None
        return session.seen_us

    before = seen()
    clock.push(14)
    door.whose(secret)
    assert seen() == before
    clock.push(1)
    door.whose(secret)
    assert seen() == before + 15_000_000
