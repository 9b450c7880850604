"""Forms filled in while the network was down: entered as a whole, countersigned, never against the record (D05-D07).

E17: late paper after six hours, of which two lines contradict what is on record.
"""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.errors import WrongUseError
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor
from tests.engine.test_paper import a_bath


def kept(floor: Floor, item: str) -> list[words.PaperLineKept]:
    bodies = [entry.body for entry in floor.entries(f"item:{item}")]
    return [body for body in bodies if isinstance(body, words.PaperLineKept)]


def test_a_form_is_entered_once_by_two_people_one_of_them_a_supervisor(floor: Floor) -> None:
    """D06, D05: the same form twice is told, and so is another one under its number."""
    play(
        floor,
        """
        +21600 | anna        | FEN-0101 entered       | refused D06
        +21600 | anna + ben  | FEN-0101 entered       | refused D06, key role-needed
        +21600 | cora + cora | FEN-0101 entered       | refused S08
        +21600 | anna + cora | FEN-0101 entered       | accepted
        +21700 | anna + cora | FEN-0101 entered       | refused D05, key form-entered
        +21700 | anna + cora | FEN-0101 entered other | refused D05, key form-differs
        """,
    )


def test_who_did_it_is_on_record_not_who_wrote_it_down(floor: Floor) -> None:
    """D06: Cora writes down what Anna did; Anna's competency counts, and Anna did not inspect (S01)."""
    play(
        floor,
        """
        +0     | anna       | BLW-3 used                                        | accepted
        +21600 | gus + cora | FEN-0101 entered                                  | accepted
        +21600 | gus + cora | BLW-3 line 1 of FEN-0101 by anna 600 : take-apart | accepted
        +21600 | gus + cora | line 2 of FEN-0101 by erin 700 : clean            | refused A02
        +21600 | gus + cora | line 2 of FEN-0101 by stranger 700 : clean        | refused A01
        +21600 | gus + cora | line 2 of FEN-0101 by anna 700 : clean            | accepted
        """,
    )
    item = floor.item("BLW-3")
    assert (item.satisfied["clean"].actor, item.satisfied["clean"].sort) == ("ANNA", "attested")
    assert set(item.hands) == {"ANNA"}
    assert floor.entries("item:BLW-3")[-1].envelope.actor == "GUS"
    assert [(one.did, one.rules, one.conflict) for one in kept(floor, "BLW-3")] == [
        ("clean", ("A02",), False),
        ("clean", ("A01",), False),
    ]


def test_paper_of_six_hours_with_two_lines_against_the_record(floor: Floor) -> None:
    """E17, D07: the item was ready in the store, and a person was scanned at another site; both stand."""
    play(
        floor,
        """
        +600   | anna @ FENHOLLOW | HED-3 used                                       | accepted
        +600   | anna @ FENHOLLOW | HED-3 take-apart                                 | accepted
        +21600 | anna + cora      | FEN-0101 entered                                 | accepted
        +21600 | anna + cora      | BLW-3 line 1 of FEN-0101 by ben 900 : clean      | held D07, key was-elsewhere
        +21600 | anna + cora      | line 2 of FEN-0101 by ben 990 : clean-check      | held D07
        +21601 | anna + cora      | BLW-1 line 3 of FEN-0101 by ben 800 : take-apart | accepted
        +21602 | anna + cora      | BLW-1 line 4 of FEN-0101 by anna 599 700 : clean | held D07, key person-elsewhere
        +21603 | anna + cora      | line 5 of FEN-0101 by ben 900 : clean            | held H04
        +21604 | anna + cora      | BLW-1 line 5 of FEN-0101 by ben -99999 : clean   | held D07, key earlier-cycle
        +21700 | cora + dan       | BLW-1 lift 1                                     | accepted
        +21760 | ben              | BLW-1 clean                                      | accepted
        """,
    )
    assert [hold.sort for hold in floor.item("BLW-3").holds.values()] == ["administrative"]
    assert [(one.line, one.conflict) for one in kept(floor, "BLW-3")] == [(1, True), (2, True)]
    assert [(one.line, one.conflict) for one in kept(floor, "BLW-1")] == [(4, True), (5, False), (5, True)]
    assert floor.department.verify(full=True).sound


def test_a_scan_at_the_same_site_or_at_another_time_is_no_contradiction(floor: Floor) -> None:
    """D07: both ends of the line count."""
    play(
        floor,
        """
        +600   | anna             | HED-3 used | accepted
        +600   | anna             | HED-3 take-apart | accepted
        +601   | anna @ FENHOLLOW | HED-7 used | accepted
        +1000  | anna @ FENHOLLOW | HED-7 take-apart | accepted
        +21600 | anna + cora      | FEN-0101 entered | accepted
        +21600 | anna + cora      | BLW-1 line 1 of FEN-0101 by anna 500 999 : take-apart | accepted
        +21600 | anna + cora      | BLW-1 line 2 of FEN-0101 by anna 999 1000 : clean | held D07, key person-elsewhere
        """,
    )


def test_two_lines_of_one_item_cannot_overlap(floor: Floor) -> None:
    """D07"""
    play(
        floor,
        """
        +0    | anna        | OPA-1 made of opa-055                                                    | accepted
        +1    | anna        | OPA-1 tested 0.3                                                         | accepted
        +7200 | anna + cora | FEN-0102 entered                                                         | accepted
        +7200 | anna + cora | PRB-2 line 1 of FEN-0102 by anna 100 820 : disinfect done in OPA-1 at 21 | accepted
        +7200 | anna + cora | line 2 of FEN-0102 by anna 500 900 : air done                            | held D07
        """,
    )
    started = next(e for e in floor.entries("item:PRB-2") if isinstance(e.body, words.DwellStarted))
    assert isinstance(started.body, words.DwellStarted)
    assert (started.body.done_by, started.occurred_us) == ("ANNA", OPENING_US + 100_000_000)


def test_a_soak_on_paper_that_is_too_short_or_in_a_later_bath_does_not_count(floor: Floor) -> None:
    """T01, D07: 719 s of 720 s; and a bath that was made up only afterwards."""
    play(
        floor,
        """
        +1000 | anna        | OPA-1 made of opa-055 | accepted
        +1001 | anna        | OPA-1 tested 0.3 | accepted
        +7200 | anna + cora | F-2 entered | accepted
        +7200 | anna + cora | PRB-2 line 1 of F-2 by anna 1100 1819 : disinfect done in OPA-1 at 21 | refused T01
        +7200 | anna + cora | line 2 of F-2 by anna 100 820 : disinfect done in OPA-1 at 21 | held D07
        """,
    )
    assert floor.item("PRB-2").stage == "cleaned"
    assert [one.because for one in kept(floor, "PRB-2")] == [("too-short",), ("bath-made-later",)]


def test_a_use_on_paper_is_never_refused(floor: Floor) -> None:
    """D07's own example: paper says used, the record says in store; in doubt the item starts again."""
    play(
        floor,
        """
        +7200 | anna + cora | FEN-0103 entered                            | accepted
        +7200 | anna + cora | BLW-3 line 1 of FEN-0103 by ben 3600 : used | held D07, stage used
        """,
    )
    again = floor.entries("item:BLW-3")[-3]
    assert (again.kind, again.occurred_us) == ("item-contaminated", OPENING_US + 3_600_000_000)


def test_a_failure_on_paper_is_a_fact(floor: Floor) -> None:
    play(
        floor,
        """
        +7200 | anna + cora | FEN-0103 entered                                           | accepted
        +7200 | anna + cora | BLW-2 line 1 of FEN-0103 by ben 60 : fail clean-check SOIL | accepted H01, stage used
        """,
    )


def test_a_test_that_failed_on_paper_reaches_back_before_a_later_pass(floor: Floor) -> None:
    """L07: failed at 2000 by the form; the pass at 3000 hides nothing that was soaked since the pass at 1."""
    play(
        floor,
        """
        +0    | anna        | OPA-1 made of opa-055                             | accepted
        +1    | anna        | OPA-1 tested 0.3                                  | accepted
        +100  | anna        | PRB-2 disinfect start in OPA-1 at 21              | accepted
        +820  | anna        | PRB-2 done at 21                                  | accepted
        +3000 | anna        | OPA-1 tested 0.3                                  | accepted
        +7200 | anna + cora | FEN-0104 entered                                  | accepted
        +7200 | anna + cora | OPA-1 line 1 of FEN-0104 by ben 2500 : tested 0.4 | accepted, warns D05
        +7200 | anna + cora | OPA-1 line 2 of FEN-0104 by ben 2000 : tested 0.2 | held L07
        """,
    )
    assert [hold.sort for hold in floor.item("PRB-2").holds.values()] == ["solution"]


def test_a_day_late_is_still_taken_and_tomorrow_is_not(floor: Floor) -> None:
    """D05"""
    play(
        floor,
        """
        +90000 | anna + cora | FEN-0105 entered                                  | accepted
        +90000 | anna + cora | BLW-1 line 1 of FEN-0105 by anna 600 : take-apart | accepted
        +90000 | anna + cora | line 2 of FEN-0105 by anna 90001 : clean          | refused D05
        """,
    )


def test_a_line_about_something_unknown_stays_with_the_site(floor: Floor) -> None:
    """P05"""
    play(
        floor,
        """
        +90000 | anna + cora | FEN-0105 entered                               | accepted
        +90000 | anna + cora | XXX-1 line 1 of FEN-0105 by anna 600 : dropped | refused P05
        """,
    )


def test_times_on_a_form_are_judged_like_times_on_a_clock(floor: Floor) -> None:
    """T15, T08: cleaned in 20 s; rinsed 31 minutes after the contact."""
    play(
        floor,
        """
        +0    | anna        | BLW-3 used                                                  | accepted
        +1    | anna        | HPW-5 made of hydrogen-peroxide-wipe                        | accepted
        +7200 | anna + cora | FEN-0106 entered                                            | accepted
        +7200 | anna + cora | BLW-3 line 1 of FEN-0106 by ben 60 : take-apart             | accepted
        +7200 | anna + cora | line 2 of FEN-0106 by ben 70 90 : clean                     | refused T15
        +7200 | anna + cora | line 3 of FEN-0106 by ben 70 130 : clean                    | accepted
        +7200 | anna + cora | line 4 of FEN-0106 by ben 140 : clean-check                 | accepted
        +7200 | anna + cora | line 5 of FEN-0106 by ben 150 210 : disinfect done in HPW-5 | accepted
        +7200 | anna + cora | line 6 of FEN-0106 by ben 2071 : rinse                      | refused T08
        +7200 | anna + cora | line 6 of FEN-0106 by ben 2010 : rinse                      | accepted, warns P10
        """,
    )


def test_what_nobody_does_on_paper_is_kept_and_moves_nothing(floor: Floor) -> None:
    """D09: no release and no issue while the record is out of reach."""
    play(floor, "+7200 | anna + cora | FEN-0107 entered | accepted")
    for what in ("release", "issue"):
        line = asking.EnterLine("FEN-0107", 1, asking.OffLimits("BLW-2", what), "B-BEN", OPENING_US)
        answer = floor.ask(line, "anna", second="cora")
        assert (answer.verdict, answer.rules()) == ("refused", ("D09",))
    assert [one.did for one in kept(floor, "BLW-2")] == ["release", "issue"]


def test_a_line_has_its_form_and_a_form_has_lines(floor: Floor) -> None:
    with pytest.raises(WrongUseError, match="not entered"):
        play(floor, "+0 | anna + cora | BLW-1 line 1 of FEN-0108 by anna 0 : take-apart | accepted")
    for form in (asking.EnterForm("FEN-0108", 0, "d"), asking.EnterForm("FEN-0108", 1, "d", "hearsay")):
        with pytest.raises(WrongUseError, match="no lines"):
            floor.ask(form, "anna", second="cora")


def test_the_second_person_on_a_form_is_another_one_and_known(floor: Floor) -> None:
    """S08, A01: the countersigner was not there."""
    a_bath(floor)
    floor.bring("PRB-2", "inspect", in_="OPA-1", temp="21")
    play(
        floor,
        """
        +7200 | anna + cora | FEN-0109 entered                                       | accepted
        +7200 | anna + cora | PRB-2 line 1 of FEN-0109 by ben 5000 : inspect          | refused S08
        +7200 | anna + cora | line 1 of FEN-0109 by ben 5000 ben : inspect            | refused S08
        +7200 | anna + cora | line 1 of FEN-0109 by ben 5000 stranger : inspect       | refused A01
        +7200 | anna + cora | line 1 of FEN-0109 by ben 5000 dan : inspect            | accepted
        """,
    )
    evidence = floor.item("PRB-2").satisfied["inspect"]
    assert (evidence.actor, evidence.second) == ("BEN", "DAN")


def test_a_test_of_tomorrow_is_asked_again(floor: Floor) -> None:
    """D05"""
    play(
        floor,
        """
        +7200 | anna + cora | FEN-0110 entered                                  | accepted
        +7200 | anna + cora | QAW-1 line 1 of FEN-0110 by ben 7201 : tested failed | refused D05
        """,
    )


def test_paper_beside_what_was_handed_out(floor: Floor) -> None:
    """D07: nobody cleaned at a bench what a wearer had; a use before this cycle, or at a bench, was not so either."""
    play(
        floor,
        """
        +0    | gus         | KIT-7 issue nobody ward-7 for emergency                    | accepted, warns U01
        +7200 | anna + cora | FEN-0111 entered                                           | accepted
        +7200 | anna + cora | KIT-7 line 1 of FEN-0111 by ben 600 : functional-test | held D07, key was-elsewhere
        +7200 | anna + cora | BLW-2 line 2 of FEN-0111 by ben 600 : used                 | held D07, stage used
        +7200 | anna + cora | BLW-1 line 3 of FEN-0111 by ben -999999 : used             | held D07, key earlier-cycle
        +7200 | anna + cora | HED-3 line 4 of FEN-0111 by ben 600 : dropped              | accepted, stage used
        +7200 | anna + cora | KIT-7 line 5 of FEN-0111 by ben 700 : used                 | accepted, stage used
        """,
    )


def test_a_failure_that_contradicts_the_record_is_taken_and_held(floor: Floor) -> None:
    """D07: a fact is never refused; the step falls although its teller was scanned elsewhere."""
    play(
        floor,
        """
        +600  | anna @ FENHOLLOW | HED-3 used                                                   | accepted
        +601  | anna @ FENHOLLOW | take-apart                                                   | accepted
        +7200 | anna + cora      | FEN-0112 entered                                             | accepted
        +7200 | anna + cora      | BLW-2 line 1 of FEN-0112 by anna 500 700 : fail clean SOIL   | held D07, stage used
        """,
    )
    assert "clean" not in floor.item("BLW-2").satisfied
    assert {hold.rule for hold in floor.item("BLW-2").holds.values()} == {"D07", "H01"}
