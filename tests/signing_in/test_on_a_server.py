"""Signing in on a PostgreSQL server: what one node counts, the other one knows (D10)."""

from __future__ import annotations

import pytest

from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError, TooManyTriesError
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.rules.guessing import FREE
from reprocess.signing_in import first_run
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.programs import Programs
from reprocess.signing_in.sessions import Door
from tests.postgres import *  # noqa: F403
from tests.signing_in.people import ANNA, BEN, CHEAP_KIB, STATION, WRONG, enrolled, give_pin, second_station
from tests.signing_in.test_tokens import issue


def test_two_nodes_count_failures_together_and_know_the_same_sessions(postgres_department: Department) -> None:
    department = postgres_department
    pins = Pins(department.ledger.key, memory_kib=CHEAP_KIB)
    one, two = (Door(department.ledger, department.clock, pins) for _ in range(2))
    for who in (ANNA, BEN):
        give_pin(department, pins, who)
    second_station(department)
    secret, _ = one.sign_in(BEN.badge, BEN.pin, STATION)
    assert two.whose(secret).person.person == BEN.person
    for number in range(FREE):
        with pytest.raises(NotSignedInError):
            (one, two)[number % 2].sign_in(ANNA.badge, WRONG, STATION)
    for door in (one, two):
        with pytest.raises(TooManyTriesError):
            door.sign_in(ANNA.badge, ANNA.pin, STATION)
    with looking(department.ledger) as read:
        assert len(read.credentials.failed_at(STATION, "claimed", 0)) == FREE
        assert read.credentials.locks(0) == 0
    two.sign_out(secret)
    with pytest.raises(NotSignedInError):
        one.whose(secret)


def test_tokens_and_the_first_run_work_there_too(postgres_department: Department) -> None:
    department = postgres_department
    pins = Pins(department.ledger.key, memory_kib=CHEAP_KIB)
    code = first_run.offer(department.ledger, department.clock)
    people = (
        first_run.Administrator("P-X", "Ines Vale", "B-X", "60418275"),
        first_run.Administrator("P-Y", "Jorn Tarn", "B-Y", "93572048"),
    )
    first_run.begin(department.ledger, department.clock, pins, code or "", people)
    body = words.PersonRegistered(name="Dara Holt", sites=(), roles=("system-administrator",))
    enrolled(department, "person:P-S", body, badge="B-X")
    enrolled(department, "person:P-S", words.BadgeGiven(badge="B-S"), badge="B-X")
    programs = Programs(department.ledger, department.clock)
    _, secret = issue(department, programs)
    assert programs.whose(secret or "").label == "the washer"
    assert [one.used_us for one in programs.listed()] != [None]
    withdraw = asking.WithdrawToken("WASHER-1", "sold")
    assert department.station(STATION, badge="B-X").ask(withdraw).accepted
    with pytest.raises(NotSignedInError):
        programs.whose(secret or "")
    assert department.verify(full=True).sound
