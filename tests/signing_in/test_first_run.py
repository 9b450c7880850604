"""The first run: no account, no first password, one code for two administrators."""

from __future__ import annotations

import base64
from dataclasses import replace

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.errors import NotSignedInError, WrongUseError
from reprocess.ledger.append import transaction
from reprocess.signing_in.first_run import CODE_US, ROLES, Administrator, begin, offer
from reprocess.signing_in.sessions import Door
from reprocess.terms import SECOND_US
from tests.signing_in.people import ANNA, BEN, STATION, entries

ONE = Administrator("P-X", "Ines Vale", "B-X", "60418275")
TWO = Administrator("P-Y", "Jorn Tarn", "B-Y", "93572048")


@pytest.fixture
def untouched(department: Department) -> Department:
    """Returns the department before anybody has a PIN."""
    with transaction(department.ledger) as work:
        for who in (ANNA, BEN):
            work.credentials.drop_pin(who.person)
    return department


def run(department: Department, door: Door, code: str | None, *first: Administrator) -> None:
    begin(department.ledger, department.clock, door.pins, code or "", first or (ONE, TWO))


def test_the_code_has_128_bits_and_is_another_one_each_time(untouched: Department, clock: StoryClock) -> None:
    one, two = offer(untouched.ledger, clock), offer(untouched.ledger, clock)
    assert one != two
    assert one is not None
    text = one.replace("-", "")
    assert len(base64.b32decode(text + "=" * (-len(text) % 8))) * 8 == 128


def test_two_administrators_come_in_with_the_code_and_sign_in(
    untouched: Department, door: Door, clock: StoryClock
) -> None:
    code = offer(untouched.ledger, clock)
    run(untouched, door, (code or "").lower())
    for who in (ONE, TWO):
        _, known = door.sign_in(who.badge, who.pin, STATION)
        assert set(known.person.roles) == set(ROLES)
    told = repr(entries(untouched, "person:P-X") + entries(untouched, "access:P-X"))
    assert ONE.pin not in told
    assert {one.envelope.identity for one in entries(untouched, "person:P-X")} == {"first-run"}


def test_the_code_counts_once(untouched: Department, door: Door, clock: StoryClock) -> None:
    code = offer(untouched.ledger, clock)
    run(untouched, door, code)
    others = (replace(ONE, person="P-V", badge="B-V"), replace(TWO, person="P-W", badge="B-W"))
    with pytest.raises(NotSignedInError):
        run(untouched, door, code, *others)
    assert offer(untouched.ledger, clock) is None


def test_the_code_counts_for_half_an_hour(untouched: Department, door: Door, clock: StoryClock) -> None:
    code = offer(untouched.ledger, clock)
    clock.push(CODE_US // SECOND_US)
    with pytest.raises(NotSignedInError):
        run(untouched, door, code)
    assert CODE_US == 30 * 60 * SECOND_US


def test_a_new_code_ends_the_one_before_and_another_one_opens_nothing(
    untouched: Department, door: Door, clock: StoryClock
) -> None:
    before = offer(untouched.ledger, clock)
    code = offer(untouched.ledger, clock)
    for wrong in (before, "AAAAA-AAAAA", "", None):
        with pytest.raises(NotSignedInError):
            run(untouched, door, wrong)
    run(untouched, door, code)


@pytest.mark.parametrize(
    "first",
    [
        (ONE, ONE),
        (ONE, replace(TWO, badge="B-X")),
        (ONE, replace(TWO, pin=ONE.pin)),
        (ONE, replace(TWO, pin="12345678")),
        (ONE, replace(TWO, badge=ANNA.badge)),
        (ONE, replace(TWO, person=ANNA.person)),
    ],
    ids=["one person", "one badge", "one PIN", "a weak PIN", "another's badge", "no administrator"],
)
def test_they_are_two_different_people_and_the_code_counts_on(
    untouched: Department, door: Door, clock: StoryClock, first: tuple[Administrator, Administrator]
) -> None:
    code = offer(untouched.ledger, clock)
    with pytest.raises(WrongUseError):
        run(untouched, door, code, *first)
    assert not entries(untouched, "person:P-X")
    run(untouched, door, code)


def test_there_is_no_code_once_somebody_has_a_pin(department: Department, clock: StoryClock) -> None:
    assert offer(department.ledger, clock) is None
