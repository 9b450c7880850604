"""Ways around the record by paper and by undoing that an adversary found, each of them shut."""

from __future__ import annotations

import pytest

from reprocess.commandline.form_lines import rows_of_queue
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.queue import Queue, QueueLine
from reprocess.terms import SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, LATER_US, OPENING_US, Floor


def learns(floor: Floor, person: str, competency: str) -> None:
    body = words.CompetencyGranted(
        competency=competency, item_kinds=(), from_us=0, until_us=LATER_US, assessor="Cora Lind", level="trainee"
    )
    assert floor.department.station("BENCH", badge=BADGES["cora"]).enrol(Enrol(f"person:{person}", body)).accepted


def test_whoever_countersigns_a_form_stood_by_no_trainee(floor: Floor) -> None:
    """A03: the preceptor is the one whom the line names, not the one who enters the form hours later."""
    learns(floor, "ERIN", "take-apart")
    play(
        floor,
        """
        +7200 | cora + ben | F-1 entered                                         | accepted
        +7200 | cora + ben | BLW-1 line 1 of F-1 by erin 600 : take-apart        | refused A03
        +7200 | cora + ben | BLW-1 line 2 of F-1 by erin 600 gus : take-apart    | refused A03
        +7200 | cora + ben | BLW-1 line 3 of F-1 by erin 600 anna : take-apart   | accepted
        """,
    )
    assert {"ERIN", "ANNA"} <= set(floor.item("BLW-1").hands)


def test_a_line_is_no_more_than_its_form(floor: Floor) -> None:
    """D06: one person adds lines to a form that two people entered."""
    play(
        floor,
        """
        +7200 | anna + cora | F-1 entered                                    | accepted
        +7201 | ben         | BLW-1 line 1 of F-1 by anna 600 : take-apart   | refused D06
        +7202 | ben + dan   | BLW-1 line 1 of F-1 by anna 600 : take-apart   | refused D06
        +7203 | ben         | BLW-3 line 2 of F-1 by anna 600 : fail inspect SOIL | accepted H01
        +7203 | anna + cora | BLW-1 line 1 of F-1 by anna 600 : take-apart   | accepted
        """,
    )
    with pytest.raises(WrongUseError, match="lines"):
        play(floor, "+0 | anna + cora | BLW-1 line 99 of F-1 by anna 700 : clean | accepted")


def test_a_supervisor_does_not_countersign_their_own_work(floor: Floor) -> None:
    """D06, S08: done by the only supervisor who is here."""
    play(
        floor,
        """
        +7200 | cora + anna | F-1 entered                                  | accepted
        +7200 | cora + anna | BLW-1 line 1 of F-1 by cora 600 : take-apart | refused S08
        +7200 | cora + anna | BLW-1 line 2 of F-1 by anna 600 : take-apart | accepted
        """,
    )


def test_nobody_reviews_what_a_form_says_that_they_did(floor: Floor) -> None:
    """A08, D14: a supervisor's own late work, entered by two others."""
    made = words.PersonRegistered(name="Una Coll", sites=(), roles=("supervisor",))
    cora = floor.department.station("BENCH", badge=BADGES["cora"])
    assert cora.enrol(Enrol("person:UNA", made)).accepted
    assert cora.enrol(Enrol("person:UNA", words.BadgeGiven(badge=BADGES["stranger"]))).accepted
    play(
        floor,
        """
        +7200 | anna + stranger | F-1 entered                                  | accepted
        +7200 | anna + stranger | BLW-1 line 1 of F-1 by cora 600 : take-apart | accepted
        """,
    )
    feed = next(one.feed for one in floor.department.waiting_for_review()[0] if one.sort == "attested")
    play(
        floor,
        f"""
        +1 | cora | BLW-1 review {feed} | refused A08, key own-entry
        +2 | fay  | review {feed}       | accepted
        """,
    )


def test_a_line_that_ends_before_it_began_is_no_use_and_no_cleaning(floor: Floor) -> None:
    """D05"""
    play(
        floor,
        """
        +7200 | anna + cora | F-1 entered                                       | accepted
        +7200 | anna + cora | BLW-1 line 1 of F-1 by anna 900 600 : take-apart  | refused D05
        """,
    )


def test_a_pair_from_paper_is_taken_back_as_a_whole(floor: Floor) -> None:
    """E14: both ends of a contact that only a form tells of."""
    play(
        floor,
        """
        +0    | anna        | OPA-1 made of opa-055 | accepted
        +1    | anna        | OPA-1 tested 0.3 | accepted
        +7200 | anna + cora | F-1 entered | accepted
        +7200 | anna + cora | PRB-2 line 1 of F-1 by anna 100 820 : disinfect done in OPA-1 at 21 | accepted
        +7210 | anna        | PRB-2 undo | accepted, stage cleaned
        """,
    )
    assert floor.item("PRB-2").dwell is None
    floor.assert_kept_whole("PRB-2")
    assert floor.department.verify(full=True).sound


def test_the_same_line_twice_is_one_line(floor: Floor) -> None:
    """D03, I9: the same key, and another key."""
    play(floor, "+7200 | anna + cora | F-1 entered | accepted")
    line = asking.EnterLine("F-1", 1, asking.Contaminate("BLW-3", "used"), BADGES["ben"], OPENING_US + 1)
    first = floor.ask(line, "anna", second="cora", key="k-1")
    number = floor.item("BLW-3").number
    assert floor.ask(line, "anna", second="cora", key="k-1").repeated
    assert floor.item("BLW-3").number == number
    assert first.rules() == ("D07",)


@pytest.mark.parametrize("rule", ["D05", "D06", "T12"])
def test_no_override_helps_a_line_of_a_form_past_its_countersign(floor: Floor, rule: str) -> None:
    """D06: what is in the table for one sentence is not passed over for another one."""
    play(
        floor,
        f"""
        +7200 | anna + cora | F-1 entered | accepted
        +7201 | ben + dan | BLW-1 line 1 of F-1 by anna 600 : take-apart passing over {rule} other | refused D06 A08
        """,
    )


def scans(*told: tuple[int, str, str]) -> Queue:
    lines = tuple(
        QueueLine(number, at_s * SECOND_US, at_s * SECOND_US, "boot-1", "B-ANNA", None, {"item": item, "did": did})
        for number, (at_s, item, did) in enumerate(told, start=1)
    )
    return Queue("Q-1", "BENCH", lines, closed=True, digest="0" * 64)


def test_a_break_is_found_however_its_item_was_spelt() -> None:
    """D09, T04: started as one spelling of the id, dried as another one, or as what nobody can read."""
    for spelt in ("blw-2", "BLW-2 ", "N-77"):
        rows = rows_of_queue(
            scans((0, "BLW-2", "disinfect start"), (10, spelt, "disinfect dried"), (180, "BLW-2", "disinfect done"))
        )
        assert [(one["did"], one["began"]) for one in rows] == [("disinfect", "")]


def test_a_film_that_had_dried_after_all_is_no_contact_in_a_queue_either() -> None:
    """E31: said after the end was confirmed; the line is kept and shows no pair."""
    rows = rows_of_queue(
        scans(
            (0, "BLW-2", "disinfect start"),
            (180, "BLW-2", "disinfect done"),
            (185, "BLW-2", "disinfect dried"),
            (200, "BLW-2", "disinfect start"),
            (380, "BLW-2", "disinfect done"),
        )
    )
    assert [bool(one["began"]) for one in rows] == [False, True]


@pytest.mark.parametrize(
    ("item", "before"),
    [
        ("BLW-1", "anna + cora | BLW-1 tag N-77 | accepted"),
        ("BLW-1", "anna + cora | BLW-1 typed BLW-1 | accepted, warns E20"),
        ("BLW-1", "anna + cora | BLW-1 doubt | held E21"),
        ("KIT-7", "anna + cora | KIT-7 issue nobody ward-7 for emergency | accepted, warns U01"),
        ("BLW-3", "anna + cora | BLW-3 keep ward-7 | accepted"),
        ("BLW-3", "anna + cora | BLW-3 lend saltgate 3 | accepted"),
        ("BLW-3", "anna + cora | BLW-3 condemn | accepted"),
        ("BLW-3", "anna + cora | BLW-3 lost | accepted"),
        ("BLW-3", "anna + cora | BLW-3 repair | accepted"),
    ],
)
def test_only_a_scan_of_work_is_undone_and_only_its_own_words_are_corrected(
    floor: Floor, item: str, before: str
) -> None:
    """E14, D01: what settles, hands out or takes out of service has a way back of its own."""
    play(floor, f"+0 | {before}\n+5 | anna | {item} undo | refused E14, key cannot-undo")
    stood = floor.item(item)
    assert floor.ask(asking.Correct(item, stood.number, "misread", mistaken=True), "anna", second="cora").accepted
    after = floor.item(item)
    assert (after.stage, after.tag, after.custody, after.holds) == (
        stood.stage, stood.tag, stood.custody, stood.holds,
    )  # fmt: skip
    floor.assert_kept_whole(item)


def test_a_release_that_was_a_mistake_is_corrected_away(floor: Floor) -> None:
    """E14, D01: after the minute of the undo, and after a rule was passed over for it."""
    number = floor.item("BLW-3").satisfied["release"].number
    play(floor, f"+100 | anna + ben | BLW-3 correct {number} not-this-item because another blower | accepted")
    assert floor.item("BLW-3").stage != "ready"
    floor.assert_kept_whole("BLW-3")
