"""Holds are a set beside the stage; who lifts one, and what comes before (H01, H02, H04, H10, S03, S04, T12, T13)."""

import pytest

from reprocess.definitions.holds import LIFTS, HoldType
from tests.engine.benches import play
from tests.engine.floor import Floor


def holds(floor: Floor, item: str) -> list[str]:
    return [hold.sort for hold in sorted(floor.item(item).holds.values(), key=lambda hold: hold.number)]


def test_a_defect_found_at_inspection_holds_the_item(floor: Floor) -> None:
    """H01: what falls is what the defect puts in doubt, here everything since taking apart."""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0 | ben | BLW-2 inspect no housing-whole | held H01, stage used, found BLW-CRACK
        """,
    )
    assert holds(floor, "BLW-2") == ["defect"]


def test_soil_found_at_inspection_is_cleaned_off_again_without_a_hold(floor: Floor) -> None:
    """P03"""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0 | ben | BLW-2 inspect no no-soil-left | refused P03, stage used, next clean, found SOIL
        """,
    )
    assert holds(floor, "BLW-2") == []


def test_a_missing_part_is_a_hold_of_its_own_sort(floor: Floor) -> None:
    """H02: typed, so that whoever lifts it knows what to look for."""
    play(floor, "+0 | stranger | BLW-1 fail take-apart PLUG-MISSING | accepted H01")
    play(floor, "+0 | stranger | BLW-1 fail take-apart VALVE-MISSING | held H01")
    assert holds(floor, "BLW-1") == ["missing-part"]


def test_a_failed_step_is_a_fact_that_anybody_may_state(floor: Floor) -> None:
    """H01: the defects that the workflow names send the item where it says."""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0 | stranger | BLW-2 fail inspect SOIL           | accepted H01, stage used, found SOIL, next clean
        +1 | stranger | BLW-2 fail inspect SOIL BLW-CRACK | held H01, next take-apart
        +2 | ben      | BLW-3 fail release ODD            | held H01, stage inspected
        """,
    )


def test_holds_add_up_and_lifting_one_leaves_the_others(floor: Floor) -> None:
    """H02: the stage never changes with them."""
    play(
        floor,
        """
        +0 | ben  | BLW-3 hold administrative paper lost | held H04, stage ready
        +1 | ben  | hold recall lot 7F                   | held H04, stage ready
        +2 | ben  | hold administrative still none       | held H04
        +3 | cora | lift 1                               | accepted, stage ready
        +4 | cora | lift nothing-9                       | refused H02
        """,
    )
    assert holds(floor, "BLW-3") == ["recall", "administrative"]
    assert floor.item("BLW-3").stage == "ready"


@pytest.mark.parametrize("sort", [str(sort) for sort in HoldType])
def test_no_hold_disappears_because_an_item_starts_again(floor: Floor, sort: str) -> None:
    """H02: use, repair, loss and condemnation leave every hold as it is."""
    play(
        floor,
        f"""
        +0 | ben        | BLW-2 hold {sort} seen | held H04
        +1 | ben        | undo                   | refused E14
        +2 | ben        | used                   | accepted
        +3 | ben        | repair                 | accepted
        +4 | ben        | returned-from-repair   | accepted, stage used
        +5 | ben        | lost                   | accepted, stage lost
        +6 | cora + ben | condemn                | accepted, stage condemned
        """,
    )
    assert holds(floor, "BLW-2") == [sort]


def test_some_holds_bar_all_work_and_some_only_the_release(floor: Floor) -> None:
    """H04, G02: under a defect the way out is work; under a recall nobody touches the item."""
    for sort in HoldType:
        works = sort in {"defect", "over-exposed", "solution", "load", "missing-part", "competency"}
        play(
            floor,
            f"""
            +0 | ben  | BLW-1 used       | accepted
            +1 | ben  | hold {sort} seen | held H04
            +2 | anna | take-apart       | {"accepted, warns H04" if works else "held H04"}
            +3 | dan  | release          | held G02 G01{" S02" if not works else ""}
            """,
        )
        (hold,) = floor.item("BLW-1").holds
        roles = LIFTS[sort].roles
        who = {
            "supervisor": "cora",
            "infection-prevention": "fay",
            "programme-administrator": "hana",
            "clinical-engineer": "gus",
        }[roles[0]]
        if LIFTS[sort].renewed:
            play(floor, f"+0 | {who} + dan | BLW-1 lift {hold} | refused H10, key inspect-first")
            floor.bring("BLW-1", "inspected")
        play(floor, f"+0 | {who} + dan | BLW-1 lift {hold} | accepted")


def test_a_held_item_is_told_with_its_bin_and_its_owner(floor: Floor) -> None:
    """H04: the answer says stop, and who can help."""
    play(
        floor,
        """
        +0 | ben  | BLW-2 hold identity two tags | held H04
        +1 | anna | disinfect start in HPW-1     | held H04, key on-hold, helps Cora Lind
        """,
    )
    facts = floor.answers[-1].reasons[0].facts
    assert (facts["sort"], facts["cause"], facts["owner"]) == ("identity", "two tags", "cora")


def test_a_defect_is_lifted_by_two_people_after_a_new_inspection(floor: Floor) -> None:
    """H10, S03: repaired, a full cycle, and a role."""
    floor.bring("BLW-2", "inspect")
    play(floor, "+0 | ben | BLW-2 inspect no housing-whole | held H01")
    play(
        floor,
        """
        +0 | cora + dan | BLW-2 lift 1 | refused H10, key inspect-first
        """,
    )
    floor.bring("BLW-2", "inspected")
    play(
        floor,
        """
        +0 | cora            | BLW-2 lift 1 | refused H10, key two-people-needed
        +1 | anna + ben      | lift 1       | refused H10, key role-needed
        +2 | cora + stranger | lift 1       | refused A01
        +3 | dan + gus       | lift 1       | accepted
        """,
    )
    assert holds(floor, "BLW-2") == []


def test_who_placed_a_hold_does_not_lift_it_alone(floor: Floor) -> None:
    """S04"""
    play(
        floor,
        """
        +0 | cora       | BLW-3 hold administrative paper lost | held H04
        +1 | cora       | lift 1                               | refused S04
        +2 | -          | lift 1                               | refused A01
        +3 | cora + ben | lift 1                               | accepted
        """,
    )


def test_condemning_takes_two_people_and_a_role(floor: Floor) -> None:
    """S03, S08"""
    play(
        floor,
        """
        +0 | cora                | BLW-3 condemn | refused S03, key two-people-needed
        +1 | anna + ben          | condemn       | refused S03, key role-needed
        +2 | anna + anna's-spare | condemn       | refused S08
        +3 | dan + gus           | condemn       | accepted, stage condemned
        +4 | cora + ben          | condemn       | refused P01
        """,
    )


def test_a_condemned_item_never_comes_back(floor: Floor) -> None:
    """P01: every fact about it is kept, none of them moves it."""
    play(
        floor,
        """
        +0  | cora + ben | BLW-2 condemn            | accepted, stage condemned
        +1  | cora       | undo                     | refused E14
        +2  | ben        | used                     | accepted P01, stage condemned
        +3  | ben        | method immerse           | accepted P01, stage condemned
        +4  | ben        | repair                   | accepted P01, stage condemned
        +5  | ben        | lost                     | accepted P01, stage condemned
        +6  | ben        | found                    | accepted P01, stage condemned
        +7  | ben        | fail clean SOIL          | accepted H01, stage condemned
        +8  | ben        | undo                     | refused E14, stage condemned
        +9  | ben        | inspect no housing-whole | refused H01, stage condemned
        +10 | ben        | note found a crack       | held Q03, stage condemned
        +11 | ben        | hold recall lot 7F       | held H04, stage condemned
        +12 | anna       | disinfect start in HPW-1 | held P01 H04, stage condemned
        +13 | anna       | clean                    | held P01 H04, stage condemned
        +14 | dan        | release                  | held P01 G02, stage condemned
        +15 | anna       | break dried              | refused T04, stage condemned
        +16 | anna + ben | correct 3 no no-soil     | accepted, stage condemned
        """,
    )


def test_an_item_in_repair_comes_back_as_used(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | BLW-2 disinfect start in HPW-1 | accepted
        +1 | ben  | repair                         | accepted, stage in repair
        +2 | anna | done                           | refused P01
        +3 | anna | disinfect start in HPW-1       | refused P01, key aside
        +4 | dan  | release                        | refused P01
        +5 | ben  | returned-from-repair           | accepted, stage used
        +6 | ben  | method immerse                 | held P12
        +7 | ben  | lost                           | accepted, stage lost
        +8 | ben  | method immerse                 | held P12, stage lost
        +9 | ben  | found                          | accepted, stage used
        """,
    )


def test_a_part_is_told_at_nine_tenths_of_its_life_and_stopped_at_its_end(floor: Floor) -> None:
    """T12: this filter was opened 360 of its 365 days ago."""
    floor.bring("FLT-2", "release")
    play(
        floor,
        """
        +60 | dan | FLT-2 release | accepted, warns T12, stage ready
        +70 | ben | used          | accepted
        """,
    )
    floor.bring("FLT-2", "release")
    play(floor, "+5d | dan | FLT-2 release | refused T12, key life-over, helps Hana Ito")


def test_every_limit_of_a_life_is_counted(floor: Floor) -> None:
    """T12: cycles, charge cycles, hours; reached is over."""
    for number in range(1, 4):
        play(
            floor,
            f"""
            +0 | anna | OPA-{number} made of opa-055 | accepted
            +1 | anna | OPA-{number} tested 0.3      | accepted
            """,
        )
        floor.bring("PRB-2", "release", in_=f"OPA-{number}")
        play(
            floor,
            f"""
            +30 | dan | PRB-2 release | accepted{", warns T12" if number == 3 else ""}
            +40 | dan | used          | accepted
            """,
        )
    play(
        floor,
        """
        +0  | ben | PRB-2 release           | refused T12 G01
        +1  | dan | PRB-1 note charge 9     | accepted
        +2  | ben | PRB-1 release           | refused G01
        +3  | dan | PRB-1 note charge 1     | accepted
        +4  | ben | PRB-1 release           | refused T12 G01
        +5  | ben | BLT-8 note minutes 5999 | accepted
        +6  | ben | BLT-8 inspect           | accepted
        +7  | ben | BLT-8 release           | accepted, warns T12
        +8  | ben | BLT-8 note minutes 1    | accepted T12
        +9  | ben | BLT-8 used              | accepted
        +10 | ben | BLT-8 inspect           | accepted
        +11 | ben | BLT-8 release           | refused T12
        """,
    )


def test_a_ready_part_that_is_worn_out_is_ready_no_longer_nor_is_its_respirator(floor: Floor) -> None:
    """T12: forty hours of use for a filter."""
    play(
        floor,
        """
        +0 | ben | FLT-8 note minutes 2399 | accepted, stage ready
        +1 | ben | FLT-8 note minutes 1    | accepted T12, stage inspected
        +2 | ben | FLT-8 note minutes 1    | accepted, stage inspected
        """,
    )
    assert floor.item("KIT-7").stage == "used"


def test_the_last_cycle_of_a_ready_part_is_not_counted_twice(floor: Floor) -> None:
    """T12: a part that is ready is in its cycle, not past it."""
    assert floor.item("FLT-3").cycles_done == 1
    play(floor, "+0 | dan | FLT-3 release | refused P01")


def test_opening_a_package_that_has_expired_gives_no_new_life(floor: Floor) -> None:
    """T12: sealed until 2 March."""
    floor.bring("FLT-6", "release")
    play(
        floor,
        """
        +60 | dan | FLT-6 release     | refused T12
        +61 | dan | FLT-6 note opened | accepted
        +62 | dan | FLT-6 release     | refused T12
        +70 | dan | ONE-1 note opened | accepted
        +71 | ben | ONE-1 inspect     | accepted
        +72 | dan | ONE-1 release     | accepted
        +80 | ben | ONE-2 inspect     | accepted
        +81 | dan | ONE-2 release     | refused T12
        """,
    )


def test_a_part_keeps_ready_only_so_long_on_the_shelf(floor: Floor) -> None:
    """T13: this belt keeps for a day; afterwards it is not built in."""
    floor.bring("BLT-8", "ready")
    parts = "of BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-8"
    play(
        floor,
        f"""
        +86399 | ben | KIT-1 assemble three-port-hepa {parts} gaskets=1 plugs=1 | refused M07
        +86400 | ben | KIT-1 assemble three-port-hepa {parts} gaskets=2 plugs=1 | refused T13
        """,
    )


def test_a_look_in_store_that_finds_something_holds_the_item_and_its_respirator(floor: Floor) -> None:
    """Q03, Q04, G02"""
    play(
        floor,
        """
        +0 | ben | KIT-7 note looked-at     | accepted, stage ready
        +1 | ben | TUB-7 note found a crack | held Q03, stage ready
        """,
    )
    assert holds(floor, "TUB-7") == ["defect"]
    assert holds(floor, "KIT-7") == ["defect"]
    assert floor.item("KIT-7").anchor_day == 5
    play(floor, "+30d | ben | KIT-7 note looked-at | accepted")
    assert floor.item("KIT-7").anchor_day == 5


def test_a_hold_on_a_part_is_a_hold_on_its_respirator(floor: Floor) -> None:
    """G02: and each of the two is lifted for itself."""
    play(
        floor,
        """
        +0 | ben  | TUB-7 hold administrative paper lost | held H04
        +1 | cora | TUB-7 lift 1                         | accepted
        """,
    )
    assert holds(floor, "KIT-7") == ["administrative"]
    (hold,) = floor.item("KIT-7").holds.values()
    assert (hold.rule, hold.cause) == ("G02", "part TUB-7: paper lost")
