"""Guessing a PIN: how often, how long one waits, who is locked, and who never is because of it (D10)."""

from __future__ import annotations

import pytest
from argon2 import Type, _password_hasher, low_level

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError, TooManyTriesError
from reprocess.gathering import Library
from reprocess.ledger.append import looking, transaction
from reprocess.record import words
from reprocess.record.access import Access
from reprocess.rules.guessing import FREE, LOCKED_AFTER, STATION_TRIES, WAITS_S
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import NOT_BELIEVED, Door
from reprocess.signing_in.sources import Sources
from tests.ledger import small
from tests.signing_in.people import (
    ANNA,
    BEN,
    CHEAP_KIB,
    OTHER,
    STATION,
    WRONG,
    enrolled,
    entries,
    give_pin,
    kinds,
    second_station,
)

HOUR_S = 3_600


def fails(door: Door, badge: str = ANNA.badge, pin: str = WRONG, station: str = STATION) -> str:
    with pytest.raises(NotSignedInError) as told:
        door.sign_in(badge, pin, station)
    return told.value.sentence


def barred(door: Door, badge: str = ANNA.badge, pin: str = ANNA.pin, station: str = STATION) -> int | None:
    with pytest.raises(TooManyTriesError) as told:
        door.sign_in(badge, pin, station)
    wait = told.value.fields.get("wait_s")
    return wait if isinstance(wait, int) else None


def lock(door: Door, clock: StoryClock, badge: str = ANNA.badge, station: str = STATION) -> None:
    """Fails until the person is locked, and waits as long as one must in between."""
    for tries in range(LOCKED_AFTER):
        fails(door, badge, station=station)
        clock.push(WAITS_S[tries + 1 - FREE] if FREE <= tries + 1 < LOCKED_AFTER else 0)


def access(department: Department, person: str = ANNA.person) -> Access:
    with looking(department.ledger) as read:
        state = read.state(f"access:{person}")
    assert isinstance(state, Access)
    return state


def test_the_limits_are_those_of_the_security_design() -> None:
    """Five tries, then 30 s growing to 1 h; locked after ten; NIST SP 800-63B-4 draft, 5.2.2, allows 100 at most."""
    assert (FREE, WAITS_S[0], WAITS_S[-1], LOCKED_AFTER) == (5, 30, HOUR_S, 10)
    assert list(WAITS_S) == sorted(set(WAITS_S))
    assert LOCKED_AFTER <= 100


def test_after_five_failures_one_waits_and_each_wait_is_longer(door: Door, clock: StoryClock) -> None:
    for _ in range(FREE):
        fails(door)
    for wait in WAITS_S:
        assert barred(door) == wait
        clock.push(wait - 1)
        assert barred(door) == 1
        clock.push(1)
        fails(door)
    assert barred(door) is None
    clock.push(100 * HOUR_S)
    assert barred(door) is None, "a lock does not end by itself"


def test_a_badge_that_means_nobody_waits_and_is_locked_as_somebodys_is(
    door: Door, clock: StoryClock, department: Department
) -> None:
    """I17: no answer, no wait and no hash tells an unknown badge from a known one, however often it is tried."""

    def told(badge: str, station: str) -> tuple[type[Exception], str, object, int]:
        hashed = door.pins.hashed
        with pytest.raises((NotSignedInError, TooManyTriesError)) as why:
            door.sign_in(badge, WRONG, station)
        return why.type, why.value.sentence, why.value.fields.get("wait_s"), door.pins.hashed - hashed

    second_station(department)
    for tries in range(2 * LOCKED_AFTER):
        assert told("NOBODY", OTHER) == told(ANNA.badge, STATION), tries
        if tries >= FREE:
            clock.push(WAITS_S[-1] if tries % 2 else 1)
    assert access(department).locked_us is not None


def test_a_success_begins_the_count_anew(door: Door, department: Department) -> None:
    for _ in range(FREE - 1):
        fails(door)
    assert access(department).failures == FREE - 1
    door.sign_in(ANNA.badge, ANNA.pin, STATION)
    assert access(department).failures == 0


def test_whoever_waits_costs_no_hash_and_no_entry(door: Door, department: Department) -> None:
    for _ in range(FREE):
        fails(door)
    before, hashed = department.verify().entries, door.pins.hashed
    for _ in range(50):
        barred(door, pin=WRONG)
    assert (department.verify().entries, door.pins.hashed) == (before, hashed)


def test_a_failed_try_is_one_entry_without_anything_that_was_typed(door: Door, department: Department) -> None:
    before = department.verify().entries
    fails(door)
    assert department.verify().entries == before + 1
    one = entries(department, f"access:{ANNA.person}")[-1]
    assert one.body == words.SignInFailed(because="pin")
    assert (one.envelope.actor, one.envelope.station) == (None, STATION)
    fails(door, badge=ANNA.pin, pin=ANNA.badge)  # typed into each other's place
    last = entries(department, f"station:{STATION}")[-1]
    assert last.body == words.SignInFailed(because="badge")
    assert ANNA.pin not in repr(last)


def test_the_lock_of_one_never_bars_another_person_or_station(
    door: Door, clock: StoryClock, department: Department
) -> None:
    second_station(department)
    lock(door, clock)
    assert barred(door) is None
    door.sign_in(BEN.badge, BEN.pin, STATION)
    door.sign_in(BEN.badge, BEN.pin, OTHER)


def test_a_station_waits_whoever_is_tried_and_other_stations_go_on(
    door: Door, clock: StoryClock, department: Department
) -> None:
    second_station(department)
    for number in range(STATION_TRIES):
        fails(door, badge=f"NOBODY-{number}")
        clock.push(1)
    wait = barred(door, badge=BEN.badge, pin=BEN.pin)
    assert wait == 600 - STATION_TRIES
    door.sign_in(BEN.badge, BEN.pin, OTHER)
    clock.push(wait)
    door.sign_in(BEN.badge, BEN.pin, STATION)


def test_a_source_waits_and_other_sources_go_on(clock: StoryClock) -> None:
    """Sixty a minute; the wall clock may be set meanwhile."""
    sources = Sources(clock)
    for _ in range(60):
        sources.tries("192.0.2.1")
    clock.wall_us += HOUR_S * 1_000_000
    with pytest.raises(TooManyTriesError) as told:
        sources.tries("192.0.2.1")
    assert told.value.fields["wait_s"] == 60
    sources.tries("192.0.2.2")
    clock.push(60)
    sources.tries("192.0.2.1")


def test_the_count_survives_a_restart_and_is_the_same_on_every_node(
    door: Door, clock: StoryClock, department: Department
) -> None:
    for _ in range(FREE):
        fails(door)
    with small.opened(department.ledger.path, clock, library=Library()) as other:
        again = Door(other.ledger, clock, Pins(other.ledger.key, memory_kib=CHEAP_KIB))
        assert barred(again) == WAITS_S[0]


def test_a_lock_ends_the_sessions_of_that_person_at_once(door: Door, clock: StoryClock, department: Department) -> None:
    second_station(department)
    secret, known = door.sign_in(ANNA.badge, ANNA.pin, OTHER)
    lock(door, clock)
    with pytest.raises(NotSignedInError):
        door.whose(secret)
    assert kinds(department, f"access:{ANNA.person}")[-2:] == ["sign-in-locked", "signed-out"]
    with transaction(department.ledger) as work:
        work.credentials.begin(known.session)
    with pytest.raises(NotSignedInError, match="locked"):
        door.whose(secret)


def test_only_a_supervisor_unlocks_and_never_themselves(door: Door, clock: StoryClock, department: Department) -> None:
    lock(door, clock)
    asked = asking.UnlockSignIn(ANNA.person, "seen in person")
    own = department.station(STATION, badge=ANNA.badge).ask(asked)
    assert own.rules() == ("D10",)
    nurse = words.PersonRegistered(name="Cleo Marsh", sites=("LMG",), roles=("technician",))
    enrolled(department, "person:P-C", nurse)
    enrolled(department, "person:P-C", words.BadgeGiven(badge="B-C"))
    assert department.station(STATION, badge="B-C").ask(asked).rules() == ("A08",)
    assert department.station(STATION, badge=BEN.badge).ask(asked).accepted
    door.sign_in(ANNA.badge, ANNA.pin, STATION)
    again = department.station(STATION, badge=BEN.badge).ask(asked)
    assert again.rules() == ("D10",)


def test_the_third_lock_within_an_hour_waits_for_review(door: Door, clock: StoryClock, department: Department) -> None:
    """21 CFR 11.300(d), from memory: attempts at unauthorised use are detected and reported at once."""
    second_station(department)
    for person, badge in (("P-C", "B-C"), ("P-D", "B-D")):
        body = words.PersonRegistered(name="Cleo Marsh", sites=("LMG",), roles=("technician",))
        enrolled(department, f"person:{person}", body)
        enrolled(department, f"person:{person}", words.BadgeGiven(badge=badge))
    seen = []
    for tries in range(1, LOCKED_AFTER + 1):
        for badge, station in ((ANNA.badge, STATION), ("B-C", STATION), ("B-D", OTHER)):
            fails(door, badge, station=station)
            seen.append(_doubts(department))
        clock.push(WAITS_S[tries - FREE] if FREE <= tries < LOCKED_AFTER else 0)
    assert seen[-3:] == [0, 0, 1]


def _doubts(department: Department) -> int:
    with looking(department.ledger) as read:
        return len([one for one in read.reviews.waiting() if one.kind == "locks-many"])


def test_wrong_badge_wrong_pin_and_no_pin_are_answered_alike_at_the_same_cost(
    door: Door, department: Department, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted in runs of argon2 itself, not by a clock: each answer costs exactly one, whoever it is about."""
    with transaction(department.ledger) as work:
        work.credentials.drop_pin(BEN.person)
    runs: list[bytes] = []
    verify = low_level.verify_secret

    def counted(kept: bytes, given: bytes, sort: Type) -> bool:
        runs.append(kept)
        return verify(kept, given, sort)

    monkeypatch.setattr(_password_hasher, "verify_secret", counted)
    told = set()
    for number, (badge, pin) in enumerate(((ANNA.badge, WRONG), ("NOBODY", ANNA.pin), (BEN.badge, BEN.pin)), start=1):
        told.add(fails(door, badge, pin))
        assert len(runs) == number
    assert told == {NOT_BELIEVED}
    assert len({one.split(b"$")[3] for one in runs}) == 1, "and with the same parameters"


def test_tries_at_the_same_time_count_one_after_the_other(door: Door, department: Department) -> None:
    """Whoever was let compare before the fifth failure is barred after it, right PIN or wrong alike."""
    for _ in range(FREE - 1):
        fails(door)

    class Slow(Pins):
        def matches(self, kept: str | None, pin: str) -> bool:
            right = super().matches(kept, pin)
            fails(door)  # somebody else fails while this one is compared
            return right

    slow = Door(department.ledger, department.clock, Slow(department.ledger.key, memory_kib=CHEAP_KIB))
    assert barred(slow) == WAITS_S[0]
    department.clock.push(WAITS_S[0])  # type: ignore[attr-defined]
    assert barred(slow, pin=WRONG) == WAITS_S[1]
    assert access(department).failures == FREE + 1
    assert "signed-in" not in kinds(department, f"access:{ANNA.person}")


def test_a_pin_that_changed_while_it_was_compared_lets_nobody_in(door: Door, department: Department) -> None:
    class Slow(Pins):
        def matches(self, kept: str | None, pin: str) -> bool:
            right = super().matches(kept, pin)
            give_pin(department, door.pins, ANNA)
            return right

    slow = Door(department.ledger, department.clock, Slow(department.ledger.key, memory_kib=CHEAP_KIB))
    assert fails(slow, pin=ANNA.pin) == NOT_BELIEVED
