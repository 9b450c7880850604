"""Sweeps: each reminder rings in its second and once, whatever the clock, the channel or the program do."""

from __future__ import annotations

import random

import pytest

from reprocess.errors import UnknownSubjectError
from reprocess.gathering import Library
from reprocess.ledger.append import transaction
from reprocess.ledger.dues import LEASE_US
from reprocess.ledger.rebuild import rebuild
from reprocess.record import words
from reprocess.record.words import ReminderRang
from reprocess.reminders import rounds
from reprocess.reminders.rounds import Rang
from reprocess.scheduling import refresh_all
from reprocess.terms import DAY_S, SECOND_US
from tests.reminders.ward import CONTACT, SITE, Heard, Ward, again

BLOWER = "item:BLW-0001"
HOUR_S = 3600


class Killed(BaseException):
    """Is what a kill looks like to the code it interrupts: nothing catches it."""


def hold(number: int) -> words.HoldPlaced:
    return words.HoldPlaced(
        hold=f"defect-{number}",
        sort="defect",
        rule="H02",
        cause="crack",
        owner="clinical-engineer",
        lift_roles=("supervisor",),
        lift_two_people=False,
        lift_requires="a repair",
    )


def test_the_cue_to_wet_again_rings_in_its_second_and_once(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.second(83, heard)
    assert heard.says == []
    ward.second(1, heard)
    assert heard.says == ["rewet"]
    assert heard.rings[0].late_s == 0
    ward.second(30, heard)
    assert heard.says == ["rewet"]


def test_what_rang_is_on_record_in_the_stream_of_its_site(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.second(84, heard)
    (told,) = ward.told()
    assert told == ReminderRang(
        key="T03/item:BLW-0001/2/wet-0",
        rule="T03",
        subject=BLOWER,
        due_us=heard.rings[0].due.due_us,
        late_s=0,
    )
    last = ward.department.history(SITE)[-1]
    assert last.envelope.key == "rang:T03/item:BLW-0001/2/wet-0"
    assert last.envelope.actor is None
    assert ward.department.verify(full=True).sound


def test_a_second_wetting_rings_its_own_cue(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.second(80, heard)
    ward.write(BLOWER, words.DwellWetted(step="disinfect", wet_s=80))
    ward.second(83, heard)
    assert heard.says == []
    ward.second(1, heard)
    assert heard.keys == ["T03/item:BLW-0001/2/wet-80000000"]


def test_a_contact_that_ended_rings_no_more(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.second(50, heard)
    ward.write(BLOWER, words.DwellBroken(step="disinfect", cause="dried", rule="T04", wet_s=50, least_s=180))
    ward.second(3000, heard)
    assert heard.rings == []


def test_e32_three_hours_of_downtime_ring_once_the_gravest_first_and_marked_late(ward: Ward, heard: Heard) -> None:
    ward.write("item:BLW-0002", hold(2))
    ward.clock.push(3 * DAY_S - HOUR_S)
    ward.write(BLOWER, CONTACT)
    ward.clock.push(3 * HOUR_S)
    returned = again(ward)
    with returned.department:
        rang = returned.sweep(heard)
    assert heard.says == ["rewet", "still-waits", "longest-reached", "hold-age"]
    assert [one.due.severity for one in rang] == sorted(one.due.severity for one in rang)
    assert all(one.late for one in rang)
    assert rang[0].late_s == 3 * HOUR_S - 84
    ward.second(5, heard)
    assert len(heard.rings) == len(set(heard.keys)) == 4
    within = {body.key: body.within for body in ward.told() if isinstance(body, ReminderRang)}
    assert len(within) == 6
    assert within["T17/item:BLW-0001/2/met"] == "T17/item:BLW-0001/2/confirm"


def test_a_kill_between_giving_and_recording_repeats_the_sound_and_never_the_entry(ward: Ward) -> None:
    ward.write(BLOWER, CONTACT)
    ward.write("item:BLW-0002", CONTACT)
    ward.clock.push(85)
    first: list[str] = []

    def killed(rang: Rang) -> bool:
        first.append(rang.due.key)
        if len(first) == 2:
            raise Killed
        return True

    with pytest.raises(Killed):
        rounds.sweep(ward.department.ledger, ward.clock, killed, "bench-1")
    assert len(first) == 2
    assert ward.rang() == []
    heard = Heard()
    ward.second(59, heard)
    assert heard.rings == []
    ward.second(2, heard)
    assert sorted(heard.keys) == sorted(first)
    assert sorted(ward.rang()) == sorted(first)


def test_a_kill_repeats_nothing_that_was_recorded_before(
    ward: Ward, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rounds, "TOGETHER", 1)
    ward.write(BLOWER, CONTACT)
    ward.clock.push(181)

    def killed_at_the_second(rang: Rang) -> bool:
        if rang.due.words["say"] == "time-met":
            raise Killed
        return True

    with pytest.raises(Killed):
        rounds.sweep(ward.department.ledger, ward.clock, killed_at_the_second, "bench-1")
    ward.clock.push(61)
    ward.sweep(heard)
    assert heard.says == ["time-met"]
    assert len(ward.rang()) == 2
    assert ward.count("claim") == 0


def test_what_a_channel_could_not_give_is_tried_again_and_keeps_nothing_else_back(ward: Ward) -> None:
    heard = Heard(deaf=frozenset({"rewet"}))
    ward.write(BLOWER, CONTACT)
    ward.clock.push(181)
    ward.sweep(heard)
    assert heard.says == ["time-met"]
    heard.deaf = frozenset()
    ward.second(61, heard)
    assert heard.says == ["time-met", "rewet"]
    assert ward.rang() == heard.keys


def test_two_sweeps_in_turn_give_each_reminder_once(ward: Ward) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(85)
    other = Heard()

    def while_the_other_sweeps(rang: Rang) -> bool:
        ward.sweep(other, node="bench-2")
        return bool(rang)

    given = rounds.sweep(ward.department.ledger, ward.clock, while_the_other_sweeps, "bench-1")
    assert [one.due.rule for one in given] == ["T03"]
    assert other.rings == []


def test_a_claim_that_lapsed_while_its_owner_lived_still_makes_one_entry(ward: Ward) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(85)
    other = Heard()

    def too_slow(rang: Rang) -> bool:
        ward.clock.push(61)
        ward.sweep(other, node="bench-2")
        return bool(rang)

    given = rounds.sweep(ward.department.ledger, ward.clock, too_slow, "bench-1")
    assert other.says == ["rewet"]
    assert given == []
    assert len(ward.rang()) == 1


def test_a_clock_set_back_during_a_claim_does_not_keep_the_reminder_back(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(85)

    def killed(rang: Rang) -> bool:
        raise Killed

    with pytest.raises(Killed):
        rounds.sweep(ward.department.ledger, ward.clock, killed, "bench-1")
    ward.clock.wall_us -= HOUR_S * SECOND_US
    ward.second(2, heard)
    assert heard.says == ["rewet"]


@pytest.mark.parametrize("step_s", [-HOUR_S, -90, 90, HOUR_S])
def test_a_stepped_wall_clock_moves_no_reminder_of_a_running_contact(ward: Ward, heard: Heard, step_s: int) -> None:
    ward.write(BLOWER, CONTACT.model_copy(update={"film_s": None}))
    ward.second(10, heard)
    ward.clock.wall_us += step_s * SECOND_US
    ward.second(169, heard)
    assert "time-met" not in heard.says
    ward.second(1, heard)
    assert heard.says.count("time-met") == 1


@pytest.mark.parametrize("seed", range(6))
def test_whatever_the_clocks_the_channel_and_the_program_do_each_rings_once(ward: Ward, seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - a test that repeats itself
    heard = Heard()
    for number in (1, 2, 3):
        ward.write(f"item:BLW-{number:04d}", CONTACT, hold(number + 1))
        ward.clock.push(chance.randrange(100))
    for _ in range(120):
        ward.clock.push(chance.choice([1, 7, 60, 600, 20_000]))
        if chance.random() < 0.3:
            ward.clock.wall_us += chance.randrange(-2 * HOUR_S, 2 * HOUR_S) * SECOND_US
        heard.deaf = frozenset(chance.sample(["rewet", "time-met", "hold-age"], chance.randrange(3)))
        ward.sweep(heard, node=f"bench-{chance.randrange(2)}")
    heard.deaf = frozenset()
    ward.clock.push(14 * DAY_S + 6 * HOUR_S)
    ward.sweep(heard)
    assert len(heard.keys) == len(set(heard.keys))
    assert len(ward.rang()) == len(set(ward.rang()))
    assert sum(key[:3] in {"T03", "T17", "T06", "R09"} for key in ward.rang()) == 3 * (5 + 3)
    assert set(heard.keys) <= set(ward.rang())
    assert len(heard.escalated) == len(set(heard.escalated)) == 3 * 2
    assert ward.department.verify(full=True).sound


def test_more_than_one_batch_rings_in_one_sweep(ward: Ward, heard: Heard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rounds, "CLAIMED", 4)
    monkeypatch.setattr(rounds, "TOGETHER", 3)
    for number in (1, 2, 3):
        ward.write(f"item:BLW-{number:04d}", hold(2))
    ward.clock.push(14 * DAY_S)
    assert len(ward.sweep(heard)) == 9
    assert ward.count("claim") == 0


def test_a_sweep_that_is_told_to_stop_leaves_no_claim(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(85)
    assert rounds.sweep(ward.department.ledger, ward.clock, heard, "bench-1", lambda: False) == []
    going: list[bool] = [True]

    def told_to_stop_meanwhile(rang: Rang) -> bool:
        going.clear()
        return rang.late

    rounds.sweep(ward.department.ledger, ward.clock, told_to_stop_meanwhile, "bench-1", lambda: bool(going))
    assert ward.rang() == []
    assert ward.count("claim") == 0
    ward.sweep(heard)
    assert heard.says == ["rewet"]


def test_a_rebuild_rings_nothing_again(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(200)
    ward.sweep(heard)
    with transaction(ward.department.ledger) as work:
        before = [row.due for row in work.dues.coming(2**62)]
    rebuilt = rebuild(ward.department.ledger, refresh=lambda work: refresh_all(work, Library()))
    assert rebuilt.equal, rebuilt.differences
    with ward.department.ledger.writing() as cursor:
        cursor.execute("DELETE FROM due")
        cursor.execute("DELETE FROM rang")
    rebuild(ward.department.ledger, refresh=lambda work: refresh_all(work, Library()))
    with transaction(ward.department.ledger) as work:
        assert [row.due for row in work.dues.coming(2**62)] == before
    rings = len(heard.rings)
    ward.second(61, heard)
    assert len(heard.rings) == rings == 2


def test_a_grave_reminder_that_nobody_acknowledges_is_escalated_once(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(781)
    ward.sweep(heard)
    assert heard.says == ["rewet", "still-waits"]
    ward.second(299, heard)
    assert len(heard.rings) == 2
    ward.second(1, heard)
    assert (heard.rings[-1].due.words["say"], heard.rings[-1].to_role) == ("still-waits", "supervisor")
    ward.second(300, heard)
    assert [one.to_role for one in heard.rings].count("supervisor") == 1
    assert [body.kind for body in ward.told()].count("reminder-escalated") == 1


def test_each_reminder_has_its_own_patience(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT.model_copy(update={"dwell": "drying", "film_s": None, "greatest_s": None}))
    ward.clock.push(181)
    ward.sweep(heard)
    assert heard.says == ["dry-done"]
    ward.clock.push(DAY_S - 1)
    ward.sweep(heard)
    assert heard.escalated == []
    ward.second(1, heard)
    assert heard.escalated == heard.keys


def test_an_acknowledged_reminder_is_not_escalated(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(781)
    ward.sweep(heard)
    keys = rounds.see(ward.department.ledger, ward.clock, BLOWER, "B-01")
    assert sorted(keys) == sorted(ward.rang())
    assert rounds.see(ward.department.ledger, ward.clock, BLOWER, "B-01") == []
    ward.second(310, heard)
    assert all(one.to_role is None for one in heard.rings)
    seen = ward.department.history(SITE)[-1]
    assert seen.envelope.actor == "P-01"


def test_one_reminder_is_acknowledged_by_its_key(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(200)
    ward.sweep(heard)
    assert rounds.see(ward.department.ledger, ward.clock, heard.keys[1], "B-02") == [heard.keys[1]]
    assert rounds.see(ward.department.ledger, ward.clock, heard.keys[1], "B-02") == []


@pytest.mark.parametrize(
    ("asked", "badge", "says"),
    [(BLOWER, "B-99", "Badge B-99"), ("T03/item:BLW-0001/9/wet-0", "B-01", "No reminder")],
)
def test_what_cannot_be_acknowledged_says_why(ward: Ward, asked: str, badge: str, says: str) -> None:
    with pytest.raises(UnknownSubjectError, match=says):
        rounds.see(ward.department.ledger, ward.clock, asked, badge)


def test_what_is_settled_is_not_escalated(ward: Ward, heard: Heard) -> None:
    ward.write(BLOWER, CONTACT)
    ward.clock.push(781)
    ward.sweep(heard)
    ward.write(BLOWER, words.DwellBroken(step="disinfect", cause="dried", rule="T04", wet_s=50, least_s=180))
    ward.second(310, heard)
    assert all(one.to_role is None for one in heard.rings)


def test_reminders_without_patience_do_not_keep_the_others_waiting(
    ward: Ward, heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rounds, "CLAIMED", 1)
    ward.write("item:BLW-0002", hold(2))
    ward.write("item:BLW-0003", hold(2))
    ward.clock.push(14 * DAY_S)
    ward.sweep(heard)
    ward.clock.push(HOUR_S)
    ward.write(BLOWER, CONTACT)
    ward.second(84, heard)
    assert heard.says[-1] == "rewet"


def test_the_lease_is_a_minute() -> None:
    assert LEASE_US == 60 * SECOND_US
