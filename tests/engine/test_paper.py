"""Late entries from numbered forms: countersigned, attested, and never out of order (D05-D07)."""

from reprocess.definitions.model import Workflow
from reprocess.engine import paper
from reprocess.rules.contact import Required
from tests.engine.benches import play
from tests.engine.floor import Floor, files

BLOWER = next(file.holds for file in files() if isinstance(file.holds, Workflow) and file.holds.workflow == "blower")


def a_bath(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | OPA-1 made of opa-055 | accepted
        +1 | anna | OPA-1 tested 0.3      | accepted
        """,
    )


def test_a_late_entry_is_countersigned(floor: Floor) -> None:
    """D05: and attested, once it is more than ten minutes old."""
    play(
        floor,
        """
        +0    | anna       | BLW-3 used                     | accepted
        +3600 | anna       | take-apart on form P-7 at 600  | refused D05, key countersign
        +3600 | anna + ben | take-apart on form P-7 at 3601 | refused D05, key not-in-the-past
        +3600 | anna + ben | take-apart on form P-7 at 3600 | accepted
        +3600 | anna       | undo                           | accepted
        +3600 | anna + ben | take-apart on form P-7 at 2999 | accepted
        +3660 | anna + ben | clean on form P-7 at 3060      | accepted
        """,
    )
    satisfied = floor.item("BLW-3").satisfied
    assert (satisfied["take-apart"].sort, satisfied["clean"].sort) == ("attested", "measured")
    assert satisfied["take-apart"].paper == "P-7"


def test_after_a_day_a_supervisor_countersigns(floor: Floor) -> None:
    """D05"""
    play(
        floor,
        """
        +87000 | anna + ben  | BLW-1 take-apart on form P-7 at 600 | accepted
        +87060 | anna + ben  | clean on form P-7 at 700            | accepted
        +90000 | anna + ben  | clean-check on form P-7 at 800      | refused D05, key very-late, helps Cora Lind
        +90000 | anna + cora | clean-check on form P-7 at 800      | accepted
        """,
    )


def test_a_late_entry_that_contradicts_the_record_is_refused(floor: Floor) -> None:
    """D07: of an earlier cycle, or before the step that it rests on."""
    play(
        floor,
        """
        +100  | anna       | BLW-3 used                    | accepted
        +800  | anna + ben | take-apart on form P-7 at 99  | refused D07, key earlier-cycle
        +900  | anna + ben | take-apart on form P-7 at 100 | accepted
        +910  | anna       | undo                          | accepted
        +920  | anna + ben | take-apart on form P-7 at 150 | accepted
        +1000 | anna + ben | clean on form P-8 at 149      | refused D07, key before-its-step
        +1000 | anna + ben | clean on form P-8 at 150      | accepted
        """,
    )


def test_a_soak_known_from_a_form_is_attested(floor: Floor) -> None:
    """D05, D06: both its ends, two people; the bath knows of it."""
    a_bath(floor)
    play(
        floor,
        """
        +10   | anna       | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 820 | refused D05
        +3600 | anna       | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 820 | refused D05
        +3600 | anna + ben | disinfect done in OPA-1 at 21 on form P-9 from 100 to 819 | refused T01, key too-short
        +3600 | anna + ben | disinfect done in OPA-1 at 21 on form P-9 from 100 to 820 | accepted, stage disinfected
        """,
    )
    evidence = floor.item("PRB-2").satisfied["disinfect"]
    assert (evidence.sort, evidence.paper, evidence.solution) == ("attested", "P-9", "OPA-1")
    began, ended = floor.entries("item:PRB-2")[-2:]
    assert (began.kind, ended.kind) == ("dwell-started", "dwell-ended")
    assert ended.occurred_us - began.occurred_us == 720_000_000
    assert getattr(ended.body, "proven_s", 0) == 720
    assert floor.department.solution("OPA-1").touched == 1


def test_a_failed_test_reaches_a_soak_known_from_a_form(floor: Floor) -> None:
    """L07"""
    a_bath(floor)
    play(
        floor,
        """
        +3600 | anna + ben | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 820 | accepted
        +3700 | anna       | OPA-1 tested 0.2                                                | held L07
        """,
    )
    assert floor.item("PRB-2").stage == "used"
    assert [hold.sort for hold in floor.item("PRB-2").holds.values()] == ["solution"]


def test_a_form_is_no_release_unless_the_workflow_takes_paper(floor: Floor) -> None:
    """G10, D06: not even for an immersion that two people may confirm."""
    play(
        floor,
        """
        +0    | anna       | HYP-1 made of hypochlorite-50ppm                                | accepted
        +1    | anna       | HYP-1 tested 50                                                 | accepted
        +3600 | anna + dan | TUB-2 disinfect done in HYP-1 at 38 on form P-9 from 100 to 300 | accepted
        """,
    )
    floor.bring("TUB-2", "release")
    play(floor, "+60 | cora | TUB-2 release | refused G10")


def test_a_form_is_as_good_as_the_bath_is_now(floor: Floor) -> None:
    """I6: what a form claims opens nothing; a bath that failed, ended or is untested since does not do."""
    play(
        floor,
        """
        +0    | anna       | OPA-1 made of opa-055                                           | accepted
        +3600 | anna + ben | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 900 | refused L03
        +3601 | anna       | OPA-1 tested 0.2                                                | accepted L07
        +3602 | anna + ben | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 900 | refused L07
        +3602 | anna + ben | PRB-2 disinfect done at 21 on form P-9 from 100 to 900          | refused L02
        +3602 | anna + ben | PRB-2 disinfect done in QAW-1 at 21 on form P-9 from 100 to 900 | refused P14
        +3602 | anna + ben | PRB-2 disinfect done in OPA-1 at 41 on form P-9 from 100 to 900 | refused L07 T07
        """,
    )


def test_a_form_has_both_times_and_no_clock_beside_it(floor: Floor) -> None:
    """D05"""
    a_bath(floor)
    play(
        floor,
        """
        +3600 | anna + ben | PRB-2 disinfect done in OPA-1 at 21 on form P-9 to 900    | refused D05, key one-end-only
        +3601 | anna       | disinfect start in OPA-1 at 21                            | accepted
        +3602 | anna + ben | disinfect done in OPA-1 at 21 on form P-9 from 100 to 900 | refused D05, key clock-open
        +4321 | anna       | done at 21                                                | accepted
        +4322 | anna + ben | disinfect done in OPA-1 at 21 on form P-9 from 100 to 900 | refused P01 L03
        """,
    )


def test_a_film_cannot_be_shown_by_two_times(floor: Floor) -> None:
    """T03: 180 s of a film that lasts 105 s; 60 s of it can."""
    play(
        floor,
        """
        +0 | anna | BLW-3 used | accepted
        """,
    )
    floor.bring("BLW-3", "disinfect")
    play(
        floor,
        """
        +3600 | anna + ben | BLW-3 disinfect done in QAW-1 on form P-9 from 1000 to 1180 | refused T03
        +3600 | anna + ben | BLW-3 disinfect done in QAW-1 on form P-9 from 1000 to 1100 | refused T03 T01
        +3600 | anna + ben | BLW-3 disinfect done in HPW-1 on form P-9 from 1000 to 1060 | accepted
        """,
    )


def test_a_soak_that_was_too_long_by_the_form_holds_the_item(floor: Floor) -> None:
    """T06: two hours are allowed."""
    play(
        floor,
        """
        +0    | anna       | PER-1 made of peroxide-peracetic                                 | accepted
        +9000 | anna + ben | PRB-2 disinfect done in PER-1 at 21 on form P-9 from 100 to 7300 | accepted
        +9010 | anna       | undo                                                             | accepted
        +9020 | anna + ben | disinfect done in PER-1 at 21 on form P-9 from 100 to 7301       | held T06
        """,
    )


def test_a_film_that_lasts_as_long_as_its_contact_needs_no_wetting() -> None:
    """T03"""
    step = next(one for one in BLOWER.steps if one.step == "disinfect")
    assert step.dwell is not None
    for film_s, rules in ((60, []), (59, ["T03"]), (None, [])):
        times = Required(60, 600, film_s, "label", "mycobacteria", "wipe")
        assert [one.rule for one in paper._too_short(step, step.dwell, times, 60)] == rules


def test_other_dwells_are_known_from_forms_in_the_same_way(floor: Floor) -> None:
    """T09, T01 by dose; who, where, in which order, with which answers."""
    floor.bring("BLW-2", "dry")
    play(
        floor,
        """
        +3600 | ben + dan        | BLW-2 dry done on form P-9 from 1000 to 1899                   | refused T09
        +3600 | ben + dan @ SINK | dry done on form P-9 from 1000 to 1900                         | refused P09
        +3600 | erin + dan       | dry done on form P-9 from 1000 to 1900                         | refused A02
        +3600 | ben + dan        | dry done without dry on form P-9 from 1000 to 1900             | refused P01
        +3600 | ben + dan | dry done no dry on form P-9 from 1000 to 1900 | refused T09, found PART-WET
        +3600 | ben              | hold recall lot 7F                                             | held H04
        +3600 | ben + dan        | dry done on form P-9 from 1000 to 1900                         | held H04
        +3600 | cora + dan       | lift 1                                                         | accepted
        +3600 | ben + dan | dry done on form P-9 from 1000 to 1900 | accepted, stage dried
        +3600 | anna             | TRY-1 clean                                                    | accepted
        +7200 | ben + dan        | TRY-1 heat done on form P-9 from 5000 to 5060 trace 0:80 60:80 | refused T01
        +7200 | ben + dan        | TRY-1 heat done on form P-9 from 5000 to 5060 trace 0:95 60:95 | accepted
        """,
    )


def test_an_undone_form_takes_both_its_ends_back(floor: Floor) -> None:
    """E14: and the bath no longer reaches the item."""
    a_bath(floor)
    play(
        floor,
        """
        +3600 | anna + ben | PRB-2 disinfect done in OPA-1 at 21 on form P-9 from 100 to 820 | accepted
        +3610 | anna       | undo                                                            | accepted, stage cleaned
        +3620 | anna       | OPA-1 tested 0.2                                                | accepted L07
        """,
    )
    assert floor.item("PRB-2").dwell is None
