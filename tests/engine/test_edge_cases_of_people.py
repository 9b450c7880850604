"""Edge cases of people, paper, places and reminders, each with its whole answer (E09, E10, E17, E26, E32, E36-E40)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reprocess.commandline.say import local_in
from reprocess.commandline.showing import entry_json, entry_line
from reprocess.definitions.read import digest_of
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Enrol, Publish
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.words import ExposedUse
from reprocess.shipped import folder
from reprocess.terms import DAY_S, SECOND_US
from tests.commandline.test_forms import AGAINST, DAY, FORMS, a_file, typed
from tests.engine.benches import play
from tests.engine.floor import BADGES, LATER_US, OPENING_US, Floor
from tests.engine.wearing_people import asked, qualified, registered, with_health, write
from tests.reminders.ward import CONTACT, Heard, again, found

BLOWER = (folder() / "blower.yaml").read_text(encoding="utf-8")


def in_force(floor: Floor, text: str, *, safety: bool = False) -> str:
    """Publishes and approves another text of the blower's workflow, and returns its digest."""
    digest = digest_of(text)
    offices = {who: floor.department.station("BENCH", badge=BADGES[who]) for who in ("hana", "cora")}
    assert offices["hana"].enrol(Publish("workflow", "blower", digest, text)).accepted
    assert offices["cora"].enrol(Approve("workflow", "blower", digest, safety=safety)).accepted
    return digest


def test_e09_a_scan_without_the_competency_names_who_has_it_and_harms_nothing(floor: Floor) -> None:
    """E09, A02: refused with the names of those who can; the attempt is on record, the item as it was."""
    before = floor.item("BLW-1")
    play(floor, "+0 | erin | BLW-1 take-apart | refused A02, key competency-missing, helps Anna Rowe, helps Ben Okoro")
    assert floor.item("BLW-1") == before
    attempt = floor.entries("station:BENCH")[-1].body
    assert isinstance(attempt, words.AdvanceRefused)
    assert (attempt.subject, attempt.rules) == ("item:BLW-1", ("A02",))
    play(floor, "+1 | anna | BLW-1 take-apart | accepted")


def test_e10_a_competency_that_ends_at_midnight_lets_the_open_step_end(floor: Floor) -> None:
    """E10, A05, R07: at local midnight of the night shift; the next step is for somebody else."""
    play(
        floor,
        """
        +61140 | nell | BLW-2 disinfect start in QAW-1 | accepted
        +61230 | nell | rewet                          | accepted
        +61320 | nell | done                           | accepted, stage disinfected
        +61330 | nell | rinse                          | refused A02, key competency-lapsed, helps Anna Rowe
        """,
    )
    until_us = OPENING_US + 100 * DAY_S * SECOND_US
    granted = words.CompetencyGranted(
        competency="rinse", item_kinds=(), from_us=OPENING_US, until_us=until_us, assessor="Cora Lind"
    )
    assert floor.department.station("BENCH", badge=BADGES["cora"]).enrol(Enrol("person:ERIN", granted)).accepted
    with looking(floor.department.ledger) as read:
        ahead = [row.due.due_us for row in read.dues.coming(until_us) if row.due.subject == "person:ERIN"]
    assert [until_us // SECOND_US // DAY_S - one // SECOND_US // DAY_S for one in ahead] == [30, 14, 7]


def test_e17_of_thirty_one_late_forms_the_two_against_the_record_come_first(
    floor: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """E17, D05-D07: six hours later, by two people; 29 taken as late from their form, 2 kept and on hold."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    path = a_file(tmp_path, *FORMS, "FEN-0100,TUB-1,opened,,10:00,B-BEN,,,,,,,,", *AGAINST)
    assert typed(monkeypatch, "form", "enter", path, "--day", "2026-03-05", "--as", "B-ANNA") != 0
    capsys.readouterr()
    assert typed(monkeypatch, "form", "enter", path, *DAY, "--dry-run") == 1
    assert capsys.readouterr().out.splitlines()[0] == "Against the record: kept, on hold (2)"
    assert typed(monkeypatch, "form", "enter", path, *DAY, "--json") == 1
    lines = json.loads(capsys.readouterr().out)["lines"]
    assert [one["verdict"] for one in lines] == ["held"] * 2 + ["accepted"] * 29
    for item in ("BLW-3", "HED-3"):
        assert {hold.rule for hold in floor.item(item).holds.values()} == {"D07"}
    late = floor.entries("item:BLW-1")[-1]
    assert (late.envelope.second, late.at_us - late.occurred_us > 6 * 3600 * SECOND_US) == ("CORA", True)


def test_e26_an_open_cycle_keeps_its_version_unless_the_change_is_for_safety(floor: Floor) -> None:
    """E26, D11, G12: 3 to 5 min; pinned, it stays 3; for safety the remaining steps start again under 5."""
    assert BLOWER.count("      greatest_s: 1800\n") == 1
    longer = [BLOWER.replace("st_s: 1800\n", f"st_s: 1800\n      least_s: {least}\n") for least in (300, 301)]
    old = floor.item("BLW-2").digest
    in_force(floor, longer[0])
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in QAW-1 | accepted, left 180
        +90 | anna | rewet                          | accepted, left 90
        """,
    )
    assert floor.item("BLW-2").digest == old
    safer = in_force(floor, longer[1], safety=True)
    moved = floor.item("BLW-2")
    assert (moved.digest, moved.stage, moved.dwell) == (safer, "cleaned", None)
    assert {"take-apart", "clean", "clean-check"} == set(moved.satisfied)
    assert floor.item("KIT-7").stage != "ready"
    play(floor, "+99 | anna | BLW-2 disinfect start in QAW-1 | accepted, left 301")


def test_e32_a_bell_that_was_silent_for_three_hours_rings_each_once_the_gravest_first(tmp_path: Path) -> None:
    """E32: all that was missed, once, by severity, each marked late; a second sweep rings nothing again."""
    heard = Heard()
    ward = found(tmp_path / "ward.db", 2)
    with ward.department:
        ward.write("item:BLW-0001", CONTACT)
        ward.write("item:BLW-0002", CONTACT)
        ward.clock.push(3 * 3600)
    returned = again(ward)
    with returned.department:
        rang = returned.sweep(heard)
        assert [one.due.severity for one in rang] == sorted(one.due.severity for one in rang)
        assert len(rang) == len({one.due.key for one in rang}) == 6
        assert all(one.late for one in rang)
        assert max(one.late_s for one in rang) == 3 * 3600 - 84
        returned.second(3, heard)
    assert len(heard.keys) == len(set(heard.keys)) == 6


def test_e36_a_release_by_two_waits_at_night_for_the_second_wherever_they_are(floor: Floor) -> None:
    """E36, S08: alone it is refused and the item waits as it is; a supervisor on call agrees from another site."""
    release = "  - step: release\n"
    assert BLOWER.count(release) == 1
    in_force(floor, BLOWER.replace(release, f"{release}    two_people: true\n"), safety=True)
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60    | dan             | BLW-2 release                 | refused S08, key second-needed, stage inspected
        +8h    | dan             | release                       | refused S08, stage inspected
        +28800 | dan             | agree release                 | accepted
        +28801 | dan             | release                       | refused S08
        +28802 | stranger @ SINK | agree release                 | refused A01
        +28803 | cora @ SALTGATE | agree release                 | accepted
        +28810 | dan             | release                       | accepted, stage ready
        """,
    )
    released = floor.entries("item:BLW-2")[-1]
    assert (released.kind, released.envelope.actor, released.envelope.second) == ("item-released", "DAN", "CORA")
    given = floor.entries("consent:item:BLW-2")
    assert [(one.kind, one.envelope.actor, one.envelope.station) for one in given][1] == (
        "consent-given", "CORA", "SALTGATE",
    )  # fmt: skip


def test_e37_one_badge_at_two_sites_within_minutes_is_refused_and_looked_into(floor: Floor) -> None:
    """E37: the second site refuses, keeps facts, and brings it to whoever reviews; lost, the badge is withdrawn."""
    play(
        floor,
        """
        +0   | anna @ BENCH     | BLW-1 take-apart | accepted
        +299 | anna @ FENHOLLOW | ONE-1 inspect    | refused E37, key badge-elsewhere, helps Cora Lind
        +299 | anna @ FENHOLLOW | HED-3 dropped    | accepted, stage used
        """,
    )
    (waits, *_) = [one for one in floor.department.waiting_for_review()[0] if one.sort == "security"]
    assert (waits.stream, waits.rules) == ("station:FENHOLLOW", ("E37",))
    withdrawn = Enrol("person:ANNA", words.BadgeWithdrawn(badge="B-ANNA", reason="lost"))
    assert floor.department.station("BENCH", badge=BADGES["cora"]).enrol(withdrawn).accepted
    play(floor, "+400 | anna @ BENCH | BLW-1 clean | refused A01\n+500 | anna's-spare | BLW-1 clean | accepted")


def test_e38_each_site_has_its_own_time_and_the_network_has_utc(floor: Floor) -> None:
    """E38: one instant, two sites: its own offset on each entry, and UTC beside it wherever it is told."""
    play(
        floor,
        """
        +0 | anna           | BLW-1 used | accepted
        +0 | lee @ SALTGATE | BLW-8 used | accepted
        """,
    )
    here, there = (floor.entries(f"item:{item}")[-1] for item in ("BLW-1", "BLW-8"))
    assert here.at_us == there.at_us
    assert [one.envelope.offset_min for one in (here, there)] == [0, -240]
    zones = {one: floor.department.zone_of_station(one) for one in ("BENCH", "SALTGATE")}
    assert zones == {"BENCH": "Europe/London", "SALTGATE": "America/Halifax"}
    assert "07:00:00 +0000" in entry_line(here, local_in(zones["BENCH"]))
    assert "03:00:00 -0400" in entry_line(there, local_in(zones["SALTGATE"]))
    told = entry_json(there)
    assert (told["recorded_us"], told["offset_min"]) == (here.at_us, -240)
    signed = floor.ask(asking.Condemn("BLW-8", "cracked"), "cora", second="lee", station="SALTGATE").signature
    assert signed is not None
    assert (signed.utc, signed.local) == ("2026-03-05T07:00:00Z", "2026-03-05T03:00:00-04:00")


def test_e39_a_certificate_found_later_counts_from_its_day_and_shrinks_the_flags(floor: Floor) -> None:
    """E39, A06: with its effective day and somebody else who verified it; what it covers is settled, no more."""
    floor.bring("BLW-1", "cleaned")
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    gone = words.CompetencyWithdrawn(competency="clean", reason="no certificate", from_us=OPENING_US)
    assert office.enrol(Enrol("person:ANNA", gone)).rules() == ("A06",)
    flagged = [one.feed for one in floor.department.waiting_for_review()[0]]
    assert len(flagged) == 2

    def grant(from_us: int, verifier: str | None) -> tuple[str, ...]:
        body = words.CompetencyGranted(
            competency="clean",
            item_kinds=(),
            from_us=from_us,
            until_us=LATER_US,
            assessor="Cora Lind",
            verifier=verifier,
        )
        return office.enrol(Enrol("person:ANNA", body)).rules()

    checked = floor.item("BLW-1").satisfied["clean-check"].ended.wall_us
    assert grant(OPENING_US, None) == ()
    assert grant(OPENING_US, "ANNA") == ("A08",)
    assert len(floor.department.waiting_for_review()[0]) == 2
    assert grant(checked, "HANA") == ("E39",)
    assert len(floor.department.waiting_for_review()[0]) == 1
    assert grant(OPENING_US, "HANA") == ("E39",)
    assert floor.department.waiting_for_review()[0] == []


def test_e40_a_wearer_who_asks_is_forgotten_by_name_as_far_as_the_law_lets(floor: Floor) -> None:
    """E40, D12, D13: the pseudonym stays and the record stays sound; an exposure keeps the name for its 30 years."""
    with_health(floor)
    name = qualified(floor, registered(floor))
    use = ExposedUse("KIT-7", 1, "KIT-7", name, OPENING_US, "ED", OPENING_US + 60 * SECOND_US)
    write(floor, "case:C-1", words.CaseOpened(rule="L07", cause="a failed bath", items=("KIT-7",), uses=(use,)))
    write(floor, "case:C-1", words.CaseDecided(notify=False, because="never worn"))
    kept = asked(floor, "hana", asking.EraseName(name))
    assert [(one.rule, one.key) for one in kept.reasons] == [("D12", "kept-by-law")]
    until_us = kept.reasons[0].facts["until_us"]
    assert isinstance(until_us, int)
    assert 30 * 365 <= (until_us - OPENING_US) // SECOND_US // DAY_S <= 30 * 366
    floor.clock.push((until_us - floor.clock.now().wall_us) / SECOND_US + 1)
    assert asked(floor, "hana", asking.EraseName(name)).accepted
    assert floor.department.wearer_of_badge("W-7041") is None
    assert floor.entries(f"wearer:{name}")[-1].kind == "wearer-erased"
    assert floor.department.verify().sound
