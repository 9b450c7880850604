"""Competencies and verifications that run out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from reprocess.record.people import Competency, Person
from reprocess.record.places import Instrument
from reprocess.timetable import for_instrument, for_person
from tests.timetable.moments import at

LONDON, HALIFAX = "Europe/London", "America/Halifax"
GRANTED_US = at("2025-05-01T00:00+01:00")
UNTIL_US = at("2026-04-10T00:00+01:00")


def grant(**changed: Any) -> Competency:
    return replace(Competency("clean", (), GRANTED_US, UNTIL_US, "Ada Fold"), **changed)


def person(*competencies: Competency) -> Person:
    return Person("P-07", "Quillon Dray", competencies=competencies, active=True, number=3)


def test_a_competency_is_brought_to_mind_thirty_fourteen_and_seven_days_ahead() -> None:
    found = for_person(person(grant()), "LMG", LONDON, GRANTED_US)
    assert [due.due_us for due in found] == [
        at("2026-03-11T07:00+00:00"),
        at("2026-03-27T07:00+00:00"),
        at("2026-04-03T07:00+01:00"),
    ]
    assert {due.words["day"] for due in found} == {"2026-04-09"}
    assert found[0].key == "A05/person:P-07/clean-all-2026-04-09/-30"


def test_the_days_are_those_of_the_persons_own_site() -> None:
    until_us = at("2026-03-15T00:00-03:00")
    found = for_person(person(grant(until_us=until_us)), "SAL", HALIFAX, GRANTED_US)
    assert [due.due_us for due in found][-1] == at("2026-03-08T07:00-03:00")


def test_a_renewed_competency_is_reminded_of_its_new_end_alone() -> None:
    renewed = grant(from_us=UNTIL_US, until_us=at("2027-04-10T00:00+01:00"))
    found = for_person(person(grant(), renewed), "LMG", LONDON, GRANTED_US)
    assert {due.words["day"] for due in found} == {"2027-04-09"}


def test_a_renewal_for_fewer_kinds_leaves_the_other_kinds_running_out() -> None:
    for_tubes = grant(item_kinds=("breathing-tube",), until_us=at("2027-04-10T00:00+01:00"))
    found = for_person(person(grant(), for_tubes), "LMG", LONDON, GRANTED_US)
    assert {due.words["day"] for due in found} == {"2026-04-09", "2027-04-09"}
    wider = for_person(person(for_tubes, grant(until_us=at("2028-04-10T00:00+01:00"))), "LMG", LONDON, GRANTED_US)
    assert {due.words["day"] for due in wider} == {"2028-04-09"}


def test_the_same_grant_twice_reminds_once() -> None:
    assert len(for_person(person(grant(), grant()), "LMG", LONDON, GRANTED_US)) == 3


def test_a_grant_for_ten_days_is_brought_to_mind_once() -> None:
    short = grant(from_us=at("2026-03-31T00:00+01:00"))
    assert [due.key[-2:] for due in for_person(person(short), "LMG", LONDON, GRANTED_US)] == ["-7"]


@pytest.mark.parametrize("changed_us", [UNTIL_US, UNTIL_US + 1])
def test_what_was_withdrawn_or_had_ended_is_past(changed_us: int) -> None:
    assert for_person(person(grant()), "LMG", LONDON, changed_us) == ()


def test_who_left_is_reminded_of_nothing() -> None:
    assert for_person(replace(person(grant()), active=False), "LMG", LONDON, GRANTED_US) == ()


def test_an_instrument_rings_thirty_days_before_its_verification_ends_and_then() -> None:
    indicator = Instrument("FI-09", "flow-indicator", "LMG", verified_until_us=UNTIL_US, number=2)
    found = for_instrument(indicator, LONDON)
    assert [due.due_us for due in found] == [at("2026-03-11T07:00+00:00"), UNTIL_US]
    assert for_instrument(replace(indicator, faulty=True), LONDON) == ()
    assert for_instrument(replace(indicator, verified_until_us=None), LONDON) == ()
