"""Trainees, temporary staff, models, competencies found invalid, certificates found later, copied badges."""

from __future__ import annotations

from reprocess.department import Bench
from reprocess.engine.enrolling import Commission, Enrol
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, FOUNDED_US, LATER_US, OPENING_US, Floor


def office(floor: Floor, who: str = "cora", station: str = "BENCH") -> Bench:
    return floor.department.station(station, badge=BADGES[who])


def grant(floor: Floor, person: str, competency: str, **more: object) -> Answer:
    told = {"item_kinds": (), "from_us": 0, "until_us": LATER_US, "assessor": "Cora Lind", **more}
    body = words.CompetencyGranted.model_validate({"competency": competency, **told})
    return office(floor).enrol(Enrol(f"person:{person}", body))


def test_a_trainee_acts_beside_a_competent_person_and_both_are_on_record(floor: Floor) -> None:
    """A03: the preceptor's badge is scanned too; a colleague without the competency is no preceptor."""
    assert grant(floor, "ERIN", "take-apart", level="trainee").accepted
    play(
        floor,
        """
        +0 | erin        | BLW-1 take-apart | refused A03, key preceptor-needed, helps Anna Rowe
        +1 | erin + gus  | take-apart       | refused A03
        +2 | erin + erin | take-apart       | refused S08
        +3 | erin + anna | take-apart       | accepted
        """,
    )
    last = floor.entries("item:BLW-1")[-1].envelope
    assert (last.actor, last.second) == ("ERIN", "ANNA")
    assert {"ERIN", "ANNA"} <= set(floor.item("BLW-1").hands)


def test_temporary_staff_do_nothing_before_their_competency_is_assessed(floor: Floor) -> None:
    """A04: not even beside a preceptor."""
    hired = words.PersonRegistered(name="Ivo Tarn", sites=("LMG",), roles=("technician",), temporary=True)
    assert office(floor).enrol(Enrol("person:ERIN-2", hired)).accepted
    assert office(floor).enrol(Enrol("person:ERIN-2", words.BadgeGiven(badge="B-NOBODY"))).accepted
    assert grant(floor, "ERIN-2", "take-apart", level="trainee").accepted
    play(
        floor,
        """
        +0 | stranger        | BLW-1 take-apart | refused A04, helps Anna Rowe
        +1 | stranger + anna | take-apart       | refused A04
        """,
    )
    assert grant(floor, "ERIN-2", "take-apart").accepted
    play(floor, "+0 | stranger | BLW-1 take-apart | accepted")


def test_a_competency_for_one_model_is_none_for_another(floor: Floor) -> None:
    """A02: by step, kind and, where it names them, model."""
    assert grant(floor, "ERIN", "take-apart", models=("LB-9",)).accepted
    play(floor, "+0 | erin | BLW-1 take-apart | refused A02, key competency-missing")
    assert grant(floor, "ERIN", "take-apart", models=("LB-9", "LB-3")).accepted
    play(floor, "+0 | erin | BLW-1 take-apart | accepted")


def test_a_competency_that_lapses_at_midnight_lets_the_open_step_end(floor: Floor) -> None:
    """A05, E10: the step that runs may be finished, the next one not; nell's competencies end tonight."""
    play(
        floor,
        """
        +61199 | nell | BLW-2 disinfect start in QAW-1 | accepted
        +61290 | nell | rewet                          | accepted
        +61379 | nell | done                           | accepted
        +61400 | nell | rinse                          | refused A02, key competency-lapsed
        """,
    )


def test_what_was_done_without_a_valid_competency_is_flagged(floor: Floor) -> None:
    """A06: every step since then, of this person and this competency, whatever became of the item."""
    floor.bring("BLW-1", "cleaned")
    since = floor.clock.now().wall_us - 3600 * SECOND_US
    gone = words.CompetencyWithdrawn(competency="clean", reason="certificate not valid", from_us=since)
    answer = office(floor).enrol(Enrol("person:ANNA", gone))
    assert (answer.accepted, answer.rules(), answer.word) == (True, ("A06",), "NOTED")
    flags = [one.body for one in floor.entries("item:BLW-1") if isinstance(one.body, words.StepFlagged)]
    assert [(one.person, one.step, one.competency) for one in flags] == [
        ("ANNA", "clean", "clean"),
        ("ANNA", "clean-check", "clean"),
    ]
    assert "clean" in floor.item("BLW-1").satisfied
    assert not floor.item("BLW-1").holds
    assert not [one for one in floor.entries("item:TUB-2") if isinstance(one.body, words.StepFlagged)]
    waiting = floor.department.waiting_for_review()[0]
    assert [(one.sort, one.stream, one.rules) for one in waiting] == [("competency", "item:BLW-1", ("A06",))] * 2
    play(floor, "+0 | anna | TUB-1 clean | refused A02 P01")


def test_a_site_may_hold_what_is_flagged(floor: Floor) -> None:
    """A06, H02: items whose step still stands; a preceptor's step is theirs too."""
    opened = words.SiteOpened(title="Brackwater", zone="Europe/London", competency_hold=True)
    assert office(floor).enrol(Enrol("site:BRK", opened)).accepted
    place = words.StationOpened(title="Bench", site="BRK", side="any")
    assert office(floor).enrol(Enrol("station:BRACK", place)).accepted
    assert office(floor, "hana", "BRACK").enrol(Commission("BLW-60", "blower", "LB-3")).accepted
    assert grant(floor, "ERIN", "take-apart", level="trainee").accepted
    play(floor, "+10m | erin + anna @ BRACK | BLW-60 take-apart | accepted")
    gone = words.CompetencyWithdrawn(competency="take-apart", reason="not hers", from_us=FOUNDED_US)
    answer = office(floor).enrol(Enrol("person:ANNA", gone))
    assert answer.rules() == ("A06",)
    assert [one.sort for one in floor.item("BLW-60").holds.values()] == ["competency"]
    assert floor.item("BLW-1").holds == {}
    floor.assert_kept_whole("BLW-60")


def test_a_certificate_found_later_settles_the_flags_that_it_covers(floor: Floor) -> None:
    """E39: with its effective date and who verified it; without a verifier nothing shrinks."""
    floor.bring("BLW-1", "cleaned")
    since = OPENING_US
    gone = words.CompetencyWithdrawn(competency="clean", reason="no certificate", from_us=since)
    assert office(floor).enrol(Enrol("person:ANNA", gone)).rules() == ("A06",)
    later = floor.clock.now().wall_us + 1
    assert grant(floor, "ANNA", "clean", from_us=since).reasons == ()
    assert len(floor.department.waiting_for_review()[0]) == 2
    assert grant(floor, "ANNA", "clean", from_us=later, verifier="HANA").reasons == ()
    assert grant(floor, "ANNA", "clean", from_us=since, verifier="ANNA").rules() == ("A08",)
    assert grant(floor, "ANNA", "clean", from_us=since, verifier="HANA").rules() == ("E39",)
    assert floor.department.waiting_for_review()[0] == []
    assert floor.entries("item:BLW-1")[-1].kind == "flag-settled"


def test_one_badge_at_two_sites_within_minutes_is_refused_and_looked_into(floor: Floor) -> None:
    """E37: the second site refuses for five minutes; facts are kept all the same."""
    play(
        floor,
        """
        +0   | anna @ BENCH     | BLW-1 take-apart | accepted
        +299 | anna @ FENHOLLOW | ONE-1 inspect    | refused E37, key badge-elsewhere, helps Cora Lind
        +299 | anna @ FENHOLLOW | HED-3 dropped    | accepted
        +301 | anna @ FENHOLLOW | ONE-1 inspect    | accepted
        """,
    )
    doubts = [one.body for one in floor.entries("station:FENHOLLOW") if isinstance(one.body, words.BadgeDoubted)]
    assert [(one.person, one.site, one.other_site, one.within_s) for one in doubts] == [("ANNA", "FEN", "LMG", 299)] * 2
    assert {one.sort for one in floor.department.waiting_for_review()[0]} == {"security"}


def test_reminders_of_a_competency_come_30_14_and_7_days_ahead(floor: Floor) -> None:
    """R07, A05: common practice, no source; tests/timetable holds the details."""
    until = OPENING_US + 100 * DAY_S * SECOND_US
    assert grant(floor, "ERIN", "take-apart", from_us=OPENING_US, until_us=until).accepted
    with looking(floor.department.ledger) as read:
        rows = [row.due for row in read.dues.coming(until) if row.due.subject == "person:ERIN"]
    # A reminder rings in the morning of its day, the competency ends at seven: whole days are compared.
    days = [until // SECOND_US // DAY_S - due.due_us // SECOND_US // DAY_S for due in rows]
    assert days == [30, 14, 7]


def test_an_emergency_policy_is_declared_by_the_programme_administrator(floor: Floor) -> None:
    """A09, trade 8.2: in writing, with an end."""
    until = floor.clock.now().wall_us + DAY_S * SECOND_US
    declared = Enrol("site:LMG", words.EmergencyDeclared(until_us=until, reference="EP-7"))
    assert office(floor, "cora").enrol(declared).rules() == ("A08",)
    assert office(floor, "hana").enrol(declared).accepted
