"""Taking back a mis-scan and correcting what was written; the old words always stay (E14, D01, S06)."""

import pytest

from reprocess.record.words import EntryUndone
from tests.engine.benches import play
from tests.engine.floor import Floor


def test_a_mis_scan_is_taken_back_within_a_minute_by_the_same_person(floor: Floor) -> None:
    """E14: both entries stay."""
    before = floor.item("BLW-1").number
    play(
        floor,
        """
        +0  | anna         | BLW-1 take-apart | accepted, next clean
        +59 | ben          | undo             | refused E14, key undo-other-person
        +60 | anna's-spare | undo             | accepted, next take-apart
        +61 | anna         | undo             | refused E14, key cannot-undo
        """,
    )
    assert floor.kinds("BLW-1", before) == ["step-done", "entry-undone"]
    assert floor.item("BLW-1").hands == {}
    undone = floor.entries("item:BLW-1")[-1].body
    assert isinstance(undone, EntryUndone)
    assert (undone.undone_kind, undone.number, undone.numbers) == ("step-done", before + 1, (before + 1,))


def test_after_a_minute_a_supervisor_corrects(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-1 take-apart | accepted
        +61 | anna | undo             | refused E14, key undo-too-late, helps Cora Lind
        """,
    )


def test_after_a_reboot_nobody_knows_whether_a_minute_has_passed(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna  | BLW-1 take-apart | accepted
        +1  | clock | off 5            |
        +10 | anna  | undo             | refused E14, key undo-too-late
        """,
    )


def test_a_clock_set_back_makes_nothing_younger(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna  | BLW-1 take-apart | accepted
        +70 | clock | wall -3600       |
        +70 | anna  | undo             | refused E14, key undo-too-late
        """,
    )


def test_a_stranger_takes_nothing_back(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna     | BLW-1 take-apart | accepted
        +10 | stranger | undo             | refused A01 E14
        """,
    )


@pytest.mark.parametrize(
    ("scan", "answer"),
    [
        ("anna | BLW-2 disinfect start in HPW-1", "accepted"),
        ("dan | BLW-2 dropped", "accepted"),
    ],
)
def test_what_a_scan_did_is_undone(floor: Floor, scan: str, answer: str) -> None:
    who, _, what = (part.strip() for part in scan.partition("|"))
    item = what.split()[0]
    before = floor.item(item)
    play(
        floor,
        f"""
        +0    | {scan}       | {answer}
        +10 | {who} | undo | accepted
        """,
    )
    after = floor.item(item)
    assert (after.stage, after.satisfied, after.dwell, after.cycle) == (
        before.stage,
        before.satisfied,
        before.dwell,
        before.cycle,
    )


def test_an_undone_end_lets_the_contact_go_on(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +60 | anna | done                           | accepted, stage disinfected
        +70 | anna | undo                           | accepted, stage cleaned
        +80 | anna | done                           | accepted, stage disinfected
        """,
    )


def test_a_wetting_taken_back_does_not_keep_a_film_wet(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +90  | anna | rewet                          | accepted
        +100 | anna | undo                           | accepted
        +180 | anna | done                           | refused T03
        """,
    )


def test_a_break_by_the_clock_is_no_mis_scan(floor: Floor) -> None:
    """T03, E07: what dried, or what nobody saw, stays void."""
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in QAW-1 | accepted
        +106 | anna  | rewet                          | refused T03
        +110 | anna  | undo                           | refused E14
        +120 | anna  | disinfect start in HPW-1       | accepted
        +130 | clock | sleep 30                       |
        +181 | anna  | done                           | refused E07
        +182 | anna  | undo                           | refused E14
        """,
    )


def test_a_release_is_taken_back_before_anything_rests_on_it(floor: Floor) -> None:
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60 | dan | BLW-2 release | accepted, stage ready
        +70 | dan | undo          | accepted, stage inspected
        """,
    )
    floor.bring("BLW-2", "ready")
    parts = "BLW-2 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"
    play(
        floor,
        f"""
        +1 | ben | KIT-1 assemble three-port-hepa of {parts} gaskets=2 plugs=1 | accepted
        +2 | dan | BLW-2 undo                                                  | refused E14
        +3 | ben | BLW-2 undo                                                  | refused E14
        +4 | ben | KIT-1 undo                                                  | refused E14
        """,
    )


def test_a_use_reported_of_a_ready_item_is_not_taken_back(floor: Floor) -> None:
    """E14: in doubt it is not ready, whatever was scanned and undone in between."""
    play(
        floor,
        """
        +0 | ben | BLW-3 used              | accepted, stage used
        +1 | ben | undo                    | refused E14, key was-ready
        +2 | ben | BAT-3 fail inspect SOIL | accepted H01, stage used
        +3 | ben | undo                    | refused E14, key cannot-undo
        +4 | ben | dropped                 | accepted, stage used
        +5 | ben | undo                    | accepted, stage used
        """,
    )


def test_an_item_just_commissioned_may_have_been_anything(floor: Floor) -> None:
    """E14: nothing on record says that it was not ready."""
    play(
        floor,
        """
        +0 | ben | BLW-1 dropped | accepted
        +1 | ben | undo          | refused E14, key was-ready
        """,
    )


def test_a_hold_is_not_taken_back_with_the_scan_that_placed_it(floor: Floor) -> None:
    """H02"""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0 | ben | BLW-2 inspect no housing-whole | held H01
        +1 | ben | undo                           | refused E14, key cannot-undo
        +2 | ben | TUB-7 method heat              | held P12
        +3 | ben | undo                           | refused E14
        +4 | ben | ONE-1 note opened              | accepted
        +5 | ben | undo                           | refused E14
        """,
    )


def test_a_late_start_is_taken_back_with_its_step_and_found_again(floor: Floor) -> None:
    """T11, E14: also by who was refused, it stays."""
    play(
        floor,
        """
        +0     | anna | BLW-3 used       | accepted
        +90000 | anna | take-apart       | accepted, next long-clean
        +90010 | anna | undo             | accepted, next take-apart
        +90020 | anna | take-apart       | accepted, next long-clean
        +90030 | anna | BLW-7 used       | accepted
        +2d    | erin | BLW-7 take-apart | refused A02
        +2d    | erin | undo             | refused E14
        """,
    )
    assert floor.kinds("BLW-3").count("delay-found") == 2


def test_a_correction_takes_two_people_and_keeps_the_old_words(floor: Floor) -> None:
    """D01, S06: a value that stays in its limits changes nothing else."""
    floor.bring("BLW-2", "release")
    number = floor.item("BLW-2").satisfied["functional-test"].number
    play(
        floor,
        f"""
        +0 | ben                 | BLW-2 correct {number} flow_l_per_min=180                  | refused S06
        +1 | anna + anna's-spare | correct {number} flow_l_per_min=180                        | refused S08
        +2 | ben + cora          | correct 999 flow_l_per_min=180                             | refused D01
        +3 | ben + cora | correct {number} flow_l_per_min=180 because the 7 was an 8 | accepted, stage inspected
        +4 | ben + cora          | correct {number + 1} flow_l_per_min=180                    | refused D01
        """,
    )
    kept = {entry.number: entry.body for entry in floor.entries("item:BLW-2")}
    assert getattr(kept[number], "readings", {}) == {"flow_l_per_min": "170"}
    assert getattr(kept[number + 1], "readings", {}) == {"flow_l_per_min": "180"}
    assert "functional-test" in floor.item("BLW-2").satisfied


def test_a_correction_out_of_limits_is_a_failed_test_after_all(floor: Floor) -> None:
    """D01, M03, H01: steps fall, the hold appears, the respirator falls."""
    number = floor.item("BLW-7").satisfied["functional-test"].number
    play(floor, f"+0 | ben + cora | BLW-7 correct {number} flow_l_per_min=17 | accepted, stage used")
    assert [hold.cause for hold in floor.item("BLW-7").holds.values()] == ["BLW-FLOW"]
    assert floor.item("KIT-7").stage == "used"


def test_a_correction_that_cannot_be_read_takes_its_step_away(floor: Floor) -> None:
    floor.bring("BLW-2", "release")
    number = floor.item("BLW-2").satisfied["functional-test"].number
    play(floor, f"+0 | ben + cora | BLW-2 correct {number} flow_l_per_min=17O | accepted, next functional-test")
    assert not floor.item("BLW-2").holds


def test_a_correction_never_satisfies_anything(floor: Floor) -> None:
    """D01: neither a failed step nor one that fell."""
    floor.bring("BLW-2", "functional-test")
    play(floor, "+0 | ben | BLW-2 functional-test flow_l_per_min=150 | held M03")
    failed = floor.item("BLW-2").number - 1
    play(floor, f"+0 | ben + cora | BLW-2 correct {failed} flow_l_per_min=180 | accepted, stage used, next take-apart")
    assert floor.item("BLW-2").satisfied == {}


def test_an_old_entry_of_a_step_done_again_can_be_corrected_without_harm(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | BLW-1 take-apart          | accepted
        +1 | anna | fail take-apart NOT-APART | accepted H01
        +2 | anna | take-apart                | accepted
        """,
    )
    first = floor.item("BLW-1").number - 2
    play(floor, f"+0 | ben + cora | BLW-1 correct {first} no battery-off | accepted, next clean")


def test_a_count_corrected_opens_a_port_again(floor: Floor) -> None:
    """D01, M07, C05: an assembly whose counts were wrong is no assembly."""
    number = floor.item("KIT-7").satisfied["assemble"].number
    play(floor, f"+0 | ben + cora | KIT-7 correct {number} gaskets=1 | accepted, stage used, next assemble")
