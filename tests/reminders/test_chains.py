"""Chains: who is told next when nobody acknowledges, level by level; quiet hours; one sound for one cause."""

from __future__ import annotations

import pytest

from reprocess.record import words
from reprocess.record.words import ReminderEscalated, ReminderRang
from reprocess.reminders import rounds
from reprocess.terms import DAY_S, SECOND_US
from reprocess.timetable.chains import CHAINS
from tests.reminders.ward import CONTACT, SITE, Heard, Ward, again
from tests.timetable.moments import at

BLOWER = "item:BLW-0001"
HOUR_S = 3600
DRYING = CONTACT.model_copy(update={"dwell": "drying", "film_s": None, "greatest_s": None})


def levels(ward: Ward) -> list[tuple[str, int | None]]:
    return [(body.to_role, body.level) for body in ward.told() if isinstance(body, ReminderEscalated)]


@pytest.fixture
def two_levels(monkeypatch: pytest.MonkeyPatch) -> None:
    """The reminder of a drying that is over, with the chain of an inspection in store (R04)."""
    monkeypatch.setitem(CHAINS, "dry-done", CHAINS["inspection-over"])


# Defaults of the department's own catalogue of reminders: who is told after how long, level by level.
@pytest.mark.parametrize(
    ("say", "number", "first", "then"),
    [
        ("longest-reached", "R01", "technician", [("supervisor", 300)]),
        ("dry-done", "R02", "technician", [("supervisor", DAY_S)]),
        ("solution-over", "R03", "technician", [("supervisor", HOUR_S)]),
        ("inspection-over", "R04", "technician", [("programme-administrator", 3 * DAY_S), ("quality", 7 * DAY_S)]),
        ("life-near", "R08", "supply", [("supervisor", 7 * DAY_S)]),
        ("evaluation-over", "R12", "programme-administrator", [("quality", 30 * DAY_S)]),
        ("review-over", "R12", "programme-administrator", [("quality", 30 * DAY_S)]),
    ],
)
def test_the_chains_of_the_catalogue(say: str, number: str, first: str, then: list[tuple[str, int]]) -> None:
    chain = CHAINS[say]
    assert (chain.reminder, chain.first) == (number, first)
    assert [(one.to_role, one.after_s) for one in chain.levels] == then


@pytest.mark.usefixtures("two_levels")
def test_each_level_is_told_once_and_only_as_long_as_nobody_acknowledges(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    ward.clock.push(3 * DAY_S - 1)
    ward.sweep(heard)
    assert levels(ward) == []
    ward.second(2, heard)
    assert levels(ward) == [("programme-administrator", None)]
    ward.clock.push(4 * DAY_S)
    ward.second(2, heard)
    assert levels(ward) == [("programme-administrator", None), ("quality", 2)]
    ward.clock.push(30 * DAY_S)
    ward.sweep(heard)
    assert len(levels(ward)) == 2
    keys = [entry.envelope.key for entry in ward.department.history(SITE) if entry.kind == "reminder-escalated"]
    assert keys == [f"escalated:{heard.keys[0]}", f"escalated-2:{heard.keys[0]}"]
    assert ward.department.verify(full=True).sound


@pytest.mark.usefixtures("two_levels")
def test_an_acknowledgement_between_two_levels_ends_the_chain(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    ward.clock.push(3 * DAY_S)
    ward.sweep(heard)
    assert rounds.see(ward.department.ledger, ward.clock, BLOWER, "B-01") == heard.keys
    ward.clock.push(30 * DAY_S)
    ward.sweep(heard)
    assert levels(ward) == [("programme-administrator", None)]


@pytest.mark.usefixtures("two_levels")
def test_e32_levels_that_were_missed_are_each_told_once_the_gravest_first_and_marked_late(
    ward: Ward, heard: Heard
) -> None:
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    ward.clock.push(7 * DAY_S - HOUR_S)
    ward.write("item:BLW-0002", CONTACT)
    ward.clock.push(3 * HOUR_S)
    returned = again(ward)
    with returned.department:
        returned.sweep(heard)
    told = heard.rings[1:]
    assert [(one.due.words["say"], one.level) for one in told] == [
        ("rewet", 0),
        ("still-waits", 0),
        ("longest-reached", 0),
        ("dry-done", 1),
        ("dry-done", 2),
    ]
    assert [one.due.severity for one in told] == sorted(one.due.severity for one in told)
    assert all(one.late for one in told)
    assert told[-1].late_s == 2 * HOUR_S
    ward.second(5, heard)
    assert len(heard.rings) == 6


def test_one_sound_stands_for_the_reminders_of_one_cause(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(3 * HOUR_S)
    ward.sweep(heard)
    assert heard.says == ["rewet", "still-waits", "longest-reached"]
    rang = {body.key: body.within for body in ward.told() if isinstance(body, ReminderRang)}
    assert rang["T17/item:BLW-0001/2/met"] == "T17/item:BLW-0001/2/confirm"
    assert rang["T06/item:BLW-0001/2/near"] == "T06/item:BLW-0001/2/over"
    assert rang["T17/item:BLW-0001/2/confirm"] is None


def test_ages_of_a_hold_that_are_for_different_people_sound_each(ward: Ward, heard: Heard) -> None:
    """R09: after a fortnight without a bell the owner, the supervisor and quality are each told."""
    ward.write(
        BLOWER,
        words.HoldPlaced(
            hold="defect-2",
            sort="defect",
            rule="H01",
            cause="crack",
            owner="clinical-engineer",
            lift_roles=("supervisor",),
            lift_two_people=False,
            lift_requires="a repair",
        ),
    )
    ward.clock.push(15 * DAY_S)
    ward.sweep(heard)
    assert heard.says.count("hold-age") == 3


def test_a_reminder_that_a_later_one_of_its_cause_overtook_makes_no_sound(
    ward: Ward, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rounds, "CLAIMED", 1)
    ward.clock.push(400 * DAY_S)
    ward.sweep(heard)
    # The evaluation of the site, and the reviews of the two workflows: the later reminder of each is the graver one.
    assert heard.says == ["evaluation-over", "review-over", "review-over"]
    assert len(ward.rang()) == 6


def quiet(ward: Ward, role: str, begins: str | None, ends: str | None) -> None:
    ward.write(SITE, words.QuietHoursSet(role=role, begins=begins, ends=ends))


def test_in_its_quiet_hours_a_role_is_not_rung_at_and_is_rung_once_they_are_over(ward: Ward, heard: Heard) -> None:
    quiet(ward, "technician", "07:00", "09:00")
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    assert heard.rings == []
    ward.clock.push(2 * HOUR_S - 182)
    ward.sweep(heard)
    assert heard.rings == []
    ward.second(1, heard)
    assert heard.says == ["dry-done"]
    assert heard.rings[0].at_us == at("2026-03-05T09:00:00+00:00")
    assert heard.rings[0].late


def test_the_gravest_rings_in_quiet_hours_too(ward: Ward, heard: Heard) -> None:
    quiet(ward, "technician", "07:00", "09:00")
    ward.write(BLOWER, CONTACT)
    ward.clock.push(181)
    ward.sweep(heard)
    assert heard.says == ["rewet", "time-met"]


def test_quiet_hours_of_another_role_or_that_were_ended_keep_nothing_back(ward: Ward, heard: Heard) -> None:
    quiet(ward, "supervisor", "07:00", "09:00")
    quiet(ward, "technician", "07:00", "09:00")
    quiet(ward, "technician", None, None)
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    assert heard.says == ["dry-done"]


def test_a_level_waits_for_the_end_of_its_roles_quiet_hours(ward: Ward, heard: Heard) -> None:
    quiet(ward, "supervisor", "07:00", "09:00")
    ward.write(BLOWER, DRYING)
    ward.clock.push(181)
    ward.sweep(heard)
    ward.clock.push(DAY_S)
    ward.sweep(heard)
    assert levels(ward) == []
    ward.clock.push(2 * HOUR_S)
    ward.sweep(heard)
    assert levels(ward) == [("supervisor", None)]


def test_what_waits_in_quiet_hours_keeps_nothing_else_back(
    ward: Ward, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rounds, "CLAIMED", 1)
    quiet(ward, "technician", "07:00", "09:00")
    ward.write("item:BLW-0002", DRYING)
    ward.write("item:BLW-0003", DRYING)
    ward.clock.push(200)
    ward.write(BLOWER, CONTACT)
    ward.clock.push(84)
    ward.sweep(heard)
    assert heard.says == ["rewet"]


def test_a_sweep_says_that_it_is_at_work_and_not_every_second(ward: Ward, heard: Heard) -> None:
    def swept() -> int | None:
        with ward.department.ledger.cursor() as cursor:
            row = cursor.execute("SELECT value FROM about WHERE name = 'swept'").fetchone()
        return None if row is None else int(row[0])

    assert swept() is None
    ward.second(1, heard)
    first = swept()
    ward.second(29, heard)
    assert swept() == first
    ward.second(1, heard)
    assert swept() == ward.clock.wall_us
    ward.clock.wall_us -= HOUR_S * SECOND_US
    ward.sweep(heard)
    assert swept() == ward.clock.wall_us
