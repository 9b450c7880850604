"""What is due is kept in step with what is written, and made anew from the standings alone."""

from __future__ import annotations

from reprocess.engine.enrolling import Commission, Enrol
from reprocess.engine.request import DoStep
from reprocess.gathering import Library
from reprocess.ledger.append import looking, transaction
from reprocess.record import words
from reprocess.scheduling import refresh_all
from reprocess.terms import DAY_S, SECOND_US
from tests.reminders.ward import CONTACT, Ward
from tests.timetable.moments import at


def dues(ward: Ward) -> dict[str, int]:
    with looking(ward.department.ledger) as read:
        return {row.due.key: row.due.due_us for row in read.dues.coming(2**62)}


def about(ward: Ward, subject: str) -> list[str]:
    return [key for key in dues(ward) if f"/{subject}/" in key]


def test_commissioning_and_enrolling_call_for_reminders(ward: Ward) -> None:
    bench = ward.department.station("LMG-C1", badge="B-01")
    assert bench.enrol(Commission("BLW-0100", "blower", "LB-3")).accepted
    assert about(ward, "item:BLW-0100") == ["T12/item:BLW-0100/age-days-1825/near"]
    verified = words.InstrumentVerified(until_us=at("2026-06-01T00:00+01:00"), reference="slip 1")
    assert bench.enrol(
        Enrol("instrument:FI-09", words.InstrumentRegistered(sort="flow-indicator", site="LMG"))
    ).accepted
    assert bench.enrol(Enrol("instrument:FI-09", verified)).accepted
    assert about(ward, "instrument:FI-09") == [
        "M02/instrument:FI-09/2026-05-31/-30",
        "M02/instrument:FI-09/2026-05-31/over",
    ]
    assert bench.enrol(Enrol("instrument:FI-09", words.InstrumentFaulty(finding="it sticks"))).accepted
    assert about(ward, "instrument:FI-09") == []


def test_a_refused_advance_leaves_the_reminders_as_they_were(ward: Ward) -> None:
    ward.write("item:BLW-0001", CONTACT)
    before = dues(ward)
    answer = ward.department.station("LMG-C1", badge="B-01").ask(DoStep("BLW-0001", "inspect"))
    assert not answer.accepted
    assert set(about(ward, "item:BLW-0002")) <= set(before)
    assert {key for key in before if key.startswith("T12")} <= set(dues(ward))


def test_who_belongs_to_no_site_is_reminded_at_the_first_one(ward: Ward) -> None:
    until_us = at("2026-05-01T00:00+01:00")
    granted = words.CompetencyGranted(
        competency="clean", from_us=ward.clock.wall_us, until_us=until_us, assessor="P-02"
    )
    bench = ward.department.station("LMG-C1", badge="B-02")
    assert bench.enrol(Enrol("person:P-01", granted)).accepted
    last = "A05/person:P-01/clean-all-2026-04-30/-7"
    assert dues(ward)[last] == at("2026-04-24T07:00+01:00")
    opened = words.SiteOpened(title="Aldermoor", zone="America/Halifax")
    assert bench.enrol(Enrol("site:ALD", opened)).accepted
    assert min(key for key in dues(ward) if key.startswith("A05")).endswith("-04-30/-14")
    assert dues(ward)["A05/person:P-01/clean-all-2026-04-30/-7"] == at("2026-04-23T07:00-03:00")


def test_a_withdrawn_competency_reminds_of_nothing(ward: Ward) -> None:
    bench = ward.department.station("LMG-C1", badge="B-02")
    granted = words.CompetencyGranted(
        competency="clean",
        from_us=ward.clock.wall_us,
        until_us=ward.clock.wall_us + 90 * DAY_S * SECOND_US,
        assessor="P-02",
    )
    assert bench.enrol(Enrol("person:P-01", granted)).accepted
    assert len(about(ward, "person:P-01")) == 3
    ward.clock.push(DAY_S)
    withdrawn = words.CompetencyWithdrawn(competency="clean", reason="observed")
    assert bench.enrol(Enrol("person:P-01", withdrawn)).accepted
    assert about(ward, "person:P-01") == []


def test_everything_due_can_be_made_anew(ward: Ward) -> None:
    ward.write("item:BLW-0001", CONTACT)
    before = dues(ward)
    with ward.department.ledger.writing() as cursor:
        cursor.execute("DELETE FROM due WHERE rule = 'T03'")
        cursor.execute("UPDATE due SET due_us = 1 WHERE rule = 'T12'")
    with transaction(ward.department.ledger) as work:
        refresh_all(work, Library())
    assert dues(ward) == before


def test_what_did_not_change_is_not_written_again(ward: Ward) -> None:
    ward.write("item:BLW-0001", CONTACT)
    with transaction(ward.department.ledger) as work:
        before = ward.count("due")
        changes = work._cursor.connection.total_changes
        refresh_all(work, ward.department.library)
        assert work._cursor.connection.total_changes == changes
    assert before == ward.count("due")
