"""Return, a fact at any drop point: complete, swapped, never issued (U07, U08, U11, U12, P04, P07, S05)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.terms import SECOND_US
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor
from tests.engine.outside import (
    dues,
    hold_rules,
    parts_of,
    scanned,
    second_kit,
    took_off,
    wearers,
    worn_by,
)

PUT_ON = """
+10 | gus       | KIT-7 put-on look-over  | accepted
+20 | gus       | put-on filters          | accepted
+30 | gus       | put-on battery          | accepted
+40 | gus       | put-on flow             | accepted
+50 | gus       | put-on buckle-on        | accepted
+60 | gus + ben | put-on head-cover       | accepted
"""


def issued(floor: Floor, kit: str = "KIT-7", wearer: str = "W-1") -> None:
    """Issues a respirator to a wearer on ward 7."""
    wearers(floor, wearer)
    play(floor, f"+0 | gus | {kit} issue {wearer} ward-7 | accepted")


def test_what_comes_back_whole_starts_again_part_by_part(floor: Floor) -> None:
    """U07, U15: at any drop point, worn or not; nobody has it any more."""
    issued(floor)
    parts = parts_of(floor, "KIT-7")
    play(floor, f"+1h | anna @ SINK | KIT-7 return {scanned(floor, 'KIT-7')} unused drop bin-3 | accepted, stage used")
    for name in ("KIT-7", *parts.values()):
        one = floor.item(name)
        assert (one.stage, one.assembly, one.custody, one.holds) == ("used", None, None, {}), name
    back = next(one.body for one in floor.entries("item:KIT-7") if isinstance(one.body, words.ItemReturned))
    assert (back.place, back.wearer, back.used, back.missing) == ("bin-3", "W-1", False, ())
    assert worn_by(floor, "KIT-7") == [("W-1", False)]
    floor.assert_kept_whole("BLW-7")


def test_what_nobody_counted_is_told(floor: Floor) -> None:
    """P04"""
    issued(floor)
    play(floor, "+1h | anna | KIT-7 return | accepted, warns P04, stage used")
    assert floor.item("TUB-7").stage == "used"


@pytest.mark.parametrize("told", ["missing BAT-7", "missing battery", "SCAN"])
def test_a_part_that_did_not_come_back_stays_with_whoever_had_it(floor: Floor, told: str) -> None:
    """U11, P04: it is looked for, the kit waits for it, and it comes back by itself, however late."""
    issued(floor)
    words_ = told.replace("SCAN", scanned(floor, "KIT-7", battery="-"))
    play(floor, f"+1h | anna | KIT-7 return {words_} | accepted, warns P04")
    custody = floor.item("BAT-7").custody
    assert custody is not None
    assert (custody.sort, custody.wearer, custody.place) == ("missing", "W-1", "ward-7")
    assert worn_by(floor, "BAT-7") == [("W-1", True)]
    assert hold_rules(floor, "KIT-7") == {"P04"}
    assert hold_rules(floor, "TUB-7") == set()
    late = [(due.due_us - OPENING_US) // (3600 * SECOND_US) for due in dues(floor, "BAT-7", "U10")]
    assert late == [1 + 72]
    play(
        floor,
        """
        +1h | anna | BAT-7 clean  | refused U07 P01
        +2h | anna | BAT-7 return | accepted, stage used
        """,
    )
    assert floor.item("BAT-7").custody is None
    assert hold_rules(floor, "BAT-7") == set()
    assert worn_by(floor, "BAT-7") == [("W-1", False)]


def test_what_was_never_issued_is_taken_and_held(floor: Floor) -> None:
    """P07: accepted, under a hold, and cleaned whatever anybody says."""
    play(floor, "+0 | anna | KIT-7 return unused | held P07, warns P04, stage used, key never-issued")
    assert hold_rules(floor, "KIT-7") == {"P07"}
    play(floor, "+1 | anna | BLW-3 return | held P07, stage used")
    play(floor, "+2 | anna | NIX-77 return | accepted P05")


def test_what_was_worn_though_nobody_issued_it_has_no_gap(floor: Floor) -> None:
    """P07: the record knows who wore it."""
    play(floor, PUT_ON)
    play(floor, "+70 | anna | KIT-7 return | accepted, warns P04, stage used")
    assert worn_by(floor, "KIT-7") == [("GUS", False)]


@pytest.mark.parametrize(
    ("told", "seen"), [("seen blood", "blood"), ("seen isolation", "isolation"), ("soiled", "soiled")]
)
def test_what_is_seen_on_it_sends_every_part_on_its_path(floor: Floor, told: str, seen: str) -> None:
    """U08, P16"""
    issued(floor)
    play(floor, f"+1h | anna | KIT-7 return {scanned(floor, 'KIT-7')} {told} | accepted, warns U08")
    assert {floor.item(name).contamination_class for name in ("KIT-7", "BLW-7", "TUB-7")} == {seen}


def test_what_was_seen_at_taking_off_holds_although_nobody_repeats_it(floor: Floor) -> None:
    """U08: taken off on the ward, then returned: one kit, one class, in nobody's hands."""
    issued(floor)
    play(floor, PUT_ON)
    play(floor, "+99 | gus | KIT-7 take-off unbuckle seen blood | accepted, warns U08")
    took_off(floor)
    assert floor.item("KIT-7").custody is not None
    assert worn_by(floor, "KIT-7") == [("W-1", False)]
    play(floor, f"+1h | anna | KIT-7 return {scanned(floor, 'KIT-7')} | accepted")
    assert floor.item("KIT-7").custody is None
    assert {floor.item(name).contamination_class for name in ("KIT-7", "BLW-7")} == {"blood"}


def test_a_fault_that_its_wearer_told_holds_it_with_every_part(floor: Floor) -> None:
    """U07, H01: nobody says which part it is."""
    issued(floor)
    play(floor, f"+1h | anna | KIT-7 return {scanned(floor, 'KIT-7')} fault rattles loudly | held H01")
    assert {name for name in ("KIT-7", "BLW-7", "BLT-7") if hold_rules(floor, name) == {"H01"}} == {
        "KIT-7", "BLW-7", "BLT-7",
    }  # fmt: skip


def test_what_was_cut_off_is_held_for_two_people_to_condemn(floor: Floor) -> None:
    """E29: a fact, with the reference of the incident."""
    issued(floor)
    play(
        floor,
        f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7')} cut-off incident IR-9 seen blood | held E29, warns U08",
    )
    assert hold_rules(floor, "HED-7") == {"E29"}
    assert "IR-9" in next(iter(floor.item("KIT-7").holds.values())).cause
    play(floor, "+10 | cora + dan | HED-7 condemn | accepted")


def test_tags_swapped_between_two_blowers(floor: Floor) -> None:
    """E22, S05: both blowers are held for their identity, both kits too; neither part nor tag is believed."""
    second_kit(floor)
    issued(floor)
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', blower='BLW-3')} | held S05, warns P04")
    assert hold_rules(floor, "BLW-3") == {"E22"}
    assert hold_rules(floor, "BLW-7") == {"E22"}
    assert {one.sort for name in ("BLW-3", "BLW-7") for one in floor.item(name).holds.values()} == {"identity"}
    assert "S05" in hold_rules(floor, "KIT-7")
    assert "S05" in hold_rules(floor, "KIT-1")
    assert (floor.item("KIT-1").stage, floor.item("TUB-3").stage) == ("used", "used")


def test_a_tube_of_another_kit_rejoins_its_own_history(floor: Floor) -> None:
    """E23: it came along with the kit's own tube; both kits come apart, and the gap is noted."""
    second_kit(floor)
    issued(floor)
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7')} TUB-3 | held S05")
    tube = floor.item("TUB-3")
    assert (tube.stage, tube.assembly) == ("used", None)
    assert "custody gap" in next(iter(tube.holds.values())).cause
    assert floor.item("KIT-7").members == floor.item("KIT-1").members == {}
    assert (floor.item("BLW-3").stage, floor.item("BLW-3").assembly) == ("used", None)
    back = next(one.body for one in floor.entries("item:TUB-3") if isinstance(one.body, words.ItemReturned))
    assert back.gap


def test_a_part_of_a_kit_that_is_out_too_holds_that_kit_until_it_is_back(floor: Floor) -> None:
    """E23, S05, H05: it is with another wearer, who finishes safely; then it comes apart, and both wore the tube."""
    second_kit(floor)
    issued(floor)
    issued(floor, "KIT-1", "W-2")
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', tube='TUB-3')} | held S05, warns P04")
    assert floor.item("KIT-1").custody is not None
    assert (floor.item("KIT-1").stage, floor.item("TUB-3").assembly) == ("used", None)
    assert [due.words["say"] for due in dues(floor, "KIT-1", "H05")] == ["held-outside"]
    play(floor, f"+19 | anna | KIT-1 return {scanned(floor, 'KIT-1', tube='TUB-7')} | held S05")
    assert floor.item("TUB-7").custody is None
    assert floor.item("KIT-1").custody is None
    assert worn_by(floor, "TUB-7") == [("W-1", False), ("W-2", False)]


def test_batteries_swapped_between_two_kits_on_the_ward(floor: Floor) -> None:
    """E30, U12: custody is put right and told, nothing is held; each battery comes back once."""
    second_kit(floor)
    issued(floor)
    issued(floor, "KIT-1", "W-2")
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', battery='BAT-3')} | accepted, warns P04 U12")
    assert (floor.item("BAT-3").stage, floor.item("BAT-3").assembly, hold_rules(floor, "BAT-3")) == (
        "used",
        None,
        set(),
    )
    custody = floor.item("BAT-7").custody
    assert custody is not None
    assert custody.wearer == "W-1"
    assert floor.item("KIT-1").stage == "ready"
    play(floor, f"+19 | anna | KIT-1 return {scanned(floor, 'KIT-1', battery='BAT-7')} | accepted, warns U12")
    assert floor.item("BAT-7").custody is None
    assert [hold_rules(floor, one) for one in ("BAT-3", "BAT-7", "KIT-1", "BLW-3")] == [set()] * 4
    assert hold_rules(floor, "KIT-7") == {"P04"}


def test_a_battery_that_was_swapped_in_use_is_no_surprise(floor: Floor) -> None:
    """U12: the one that came out stays with the wearer until it is returned, and has its own return."""
    issued(floor)
    play(floor, PUT_ON)
    play(floor, "+70 | gus | KIT-7 swap battery BAT-3 | accepted")
    custody = floor.item("BAT-7").custody
    assert custody is not None
    assert (custody.sort, custody.wearer, floor.item("BAT-7").stage) == ("swapped", "W-1", "used")
    assert parts_of(floor, "KIT-7")["battery"] == "BAT-3"
    play(floor, f"+1h | anna | KIT-7 return {scanned(floor, 'KIT-7')} BAT-7 | accepted")
    assert floor.item("BAT-7").custody is None
    assert hold_rules(floor, "BAT-7") == hold_rules(floor, "KIT-7") == set()


def test_a_battery_that_was_swapped_out_carries_what_was_seen_on_the_kit(floor: Floor) -> None:
    """U12, U08: it was returned and cleaned as routine; then blood was seen on the kit it had been worn in."""
    issued(floor)
    play(floor, PUT_ON)
    play(floor, "+70 | gus | KIT-7 swap battery BAT-3 | accepted")
    play(floor, "+80 | anna | BAT-7 return | accepted")
    floor.bring("BAT-7", "cleaned")
    play(floor, f"+2h | anna | KIT-7 return {scanned(floor, 'KIT-7')} seen blood | accepted, warns U08")
    assert (floor.item("BAT-7").contamination_class, floor.item("BAT-7").stage) == ("blood", "used")
    assert floor.item("BAT-3").contamination_class == "blood"


def test_a_battery_that_came_back_alone_asks_for_the_swap(floor: Floor) -> None:
    """U12, U11: the kit goes on being out, and is not complete any more."""
    issued(floor)
    play(floor, "+1h | anna | BAT-7 return | accepted, warns U12, stage used")
    assert (floor.item("KIT-7").stage, floor.item("BAT-7").assembly) == ("used", None)
    play(floor, f"+2h | anna | KIT-7 return {scanned(floor, 'KIT-7', battery='-')} | accepted")
    assert floor.item("BAT-7").custody is None


def test_what_was_lost_or_condemned_can_come_back_too(floor: Floor) -> None:
    """U10: lost keeps who had it last; found, it starts again; condemned, it stays condemned."""
    wearers(floor, "W-1")
    play(
        floor,
        """
        +0  | gus         | BLW-3 issue W-1 ward-7 | accepted
        +1  | gus         | BLT-3 issue W-1 ward-7 | accepted, warns U04
        +4d | anna        | BLW-3 lost             | accepted
        +4d | cora + dan  | BLT-3 condemn          | accepted
        """,
    )
    assert worn_by(floor, "BLW-3") == [("W-1", True)]
    play(
        floor,
        """
        +1 | anna | BLW-3 return | accepted, stage used
        +2 | anna | BLT-3 return | accepted P01, stage condemned
        """,
    )
    assert floor.item("BLT-3").custody is None


def test_what_was_lost_with_a_kit_comes_back_with_it(floor: Floor) -> None:
    """U10: the parts that are scanned; the others stay lost."""
    issued(floor)
    play(floor, "+4d | anna | KIT-7 lost | accepted")
    assert floor.item("TUB-7").stage == "lost"
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', tube='-')} | accepted, stage used")
    assert (floor.item("TUB-7").stage, floor.item("BLW-7").stage) == ("lost", "used")


def test_something_unknown_in_the_bin_is_kept_on_record(floor: Floor) -> None:
    """P05"""
    issued(floor)
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7')} NIX-77 | accepted P05")


def test_a_single_item_that_belongs_nowhere_comes_with_a_kit(floor: Floor) -> None:
    """S05: it was in the store as ready, so nobody knows where it was."""
    issued(floor)
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7')} BLT-3 | held S05")
    assert (floor.item("BLT-3").stage, hold_rules(floor, "BLT-3")) == ("used", {"S05"})
    assert hold_rules(floor, "KIT-7") == set()


def test_a_return_is_never_refused(floor: Floor) -> None:
    """U07: without a badge, twice, by a stranger."""
    issued(floor)
    play(
        floor,
        """
        +9  | -        | KIT-7 return    | accepted, warns P04
        +19 | stranger | KIT-7 return    | accepted, warns U07
        """,
    )


def test_when_its_use_ended_counts_for_its_cleaning(floor: Floor) -> None:
    """T11: what is told, else when taking off began; a time to come is left out."""
    issued(floor)
    floor.clock.push(3600)
    early = asking.ReturnItem("KIT-7", use_ended_us=OPENING_US + 600 * SECOND_US)
    assert floor.ask(early).accepted
    assert floor.item("BLW-7").use_ended_us == OPENING_US + 600 * SECOND_US
    floor.ask(asking.ReturnItem("BLW-3", use_ended_us=OPENING_US * 2))
    assert floor.item("BLW-3").use_ended_us is None


def test_a_bath_that_fails_later_finds_who_wore_what_was_in_it(floor: Floor) -> None:
    """H06, H07: the wearer and the place of the issue, from the issue to the return; TUB-3 was in that bath."""
    wearers(floor, "W-1")
    play(
        floor,
        """
        +0  | gus  | TUB-3 issue W-1 ward-7 | accepted
        +1h | anna | TUB-3 return           | accepted
        """,
    )
    answer = floor.ask(asking.TestSolution("HYP-0", "STRIPS-1", OPENING_US * 2, reading="10", read_after_s=80))
    told = next(one for one in answer.reasons if one.key == "case-opened")
    assert (told.facts["uses"], told.facts["wearers"], told.facts["out"]) == (1, 1, 0)
    with looking(floor.department.ledger) as read:
        cases = [one for one in read.states_of("case") if isinstance(one, Case)]
    assert [(use.wearer, use.place, use.from_us, use.until_us) for use in cases[0].uses] == [
        ("W-1", "ward-7", OPENING_US, OPENING_US + 3600 * SECOND_US),
    ]  # fmt: skip


def test_a_second_scan_of_what_came_back_is_its_receipt(floor: Floor) -> None:
    """U07, E03: dropped in a bin on the ward, scanned again at the hatch, and a second time by mistake."""
    issued(floor)
    parts = parts_of(floor, "KIT-7")
    own = scanned(floor, "KIT-7")
    play(
        floor,
        f"""
        +1h | anna | KIT-7 return drop bin-3     | accepted, warns P04
        +2h | anna | KIT-7 return {own}          | accepted, warns U07
        +2h | anna | KIT-7 return {own}          | accepted, warns U07
        """,
    )
    assert all(not floor.item(name).holds for name in ("KIT-7", *parts.values()))
    floor.bring("TUB-7", "ready")
    play(floor, "+9h | anna | TUB-3 return | held P07")


def test_a_stranger_at_the_second_scan_is_a_stranger(floor: Floor) -> None:
    """S05: what never went out with it is not received with it."""
    issued(floor)
    play(
        floor,
        f"""
        +1h | anna | KIT-7 return                            | accepted, warns P04
        +2h | anna | KIT-7 return {scanned(floor, "KIT-7")} TUB-3 | held S05
        """,
    )
    assert floor.item("TUB-3").holds
