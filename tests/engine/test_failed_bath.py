"""What a failed test of a bath reaches: every contact since the last valid pass, whatever its stage (L07, I7)."""

from reprocess.record.words import StepsFell
from tests.engine.benches import play
from tests.engine.floor import Floor


def a_tested_bath(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm | accepted
        +1 | anna | HYP-1 tested 50                  | accepted
        """,
    )


def sorts(floor: Floor, item: str) -> list[str]:
    return [hold.sort for hold in floor.item(item).holds.values()]


def test_a_contact_that_runs_breaks_and_its_item_is_held(floor: Floor) -> None:
    """L07: nobody's undo brings it back."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60  | anna | HYP-1 tested 10                      | held L07
        +61  | anna | TUB-2 undo                           | refused E14
        +130 | anna | TUB-2 done at 38                     | refused P01
        """,
    )
    assert floor.kinds("TUB-2")[-3:] == ["dwell-broken", "hold-placed", "held-sighted"]


def test_a_broken_contact_holds_its_item_too(floor: Floor) -> None:
    """L07: what was in a failed bath for a minute is looked at as well."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60 | anna | break removed                        | accepted T04
        +70 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert sorts(floor, "TUB-2") == ["solution"]


def test_a_contact_before_the_last_valid_pass_is_out_of_reach(floor: Floor) -> None:
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna | done at 38                           | accepted
        +200 | anna | HYP-1 tested 50                      | accepted
        +300 | anna | HYP-1 tested 10                      | accepted L07
        """,
    )
    assert floor.answers[-1].reasons[0].facts["held"] == 0
    assert floor.item("TUB-2").stage == "disinfected"


def test_a_contact_that_ends_at_the_instant_of_the_pass_is_reached(floor: Floor) -> None:
    """L07: the suspect window is closed at both ends, to be on the safe side."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna | done at 38                           | accepted
        +130 | anna | HYP-1 tested 50                      | accepted
        +300 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert sorts(floor, "TUB-2") == ["solution"]
    assert floor.item("TUB-2").stage == "used"


def test_a_contact_that_runs_through_the_pass_is_reached(floor: Floor) -> None:
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60  | anna | HYP-1 tested 50                      | accepted
        +130 | anna | TUB-2 done at 38                     | accepted
        +300 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert floor.item("TUB-2").stage == "used"


def test_a_test_that_does_not_count_reaches_nothing_and_shortens_no_window(floor: Floor) -> None:
    """L08: the window goes back to the last test that counts."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna | done at 38                           | accepted
        +200 | anna | HYP-1 tested 50 expired-strips       | accepted L08
        +210 | anna | HYP-1 tested 10 expired-strips       | accepted L08
        +300 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert floor.answers[-1].reasons[0].facts["held"] == 1


def test_without_any_pass_the_window_goes_back_to_the_making(floor: Floor) -> None:
    """L07: a bath that needs no test and is tested all the same."""
    play(
        floor,
        """
        +0   | anna | PER-1 made of peroxide-peracetic     | accepted
        +1   | anna | PRB-2 disinfect start in PER-1 at 21 | accepted
        +901 | anna | done at 21                           | accepted
        +950 | anna | PER-1 tested failed                  | held L07
        """,
    )
    assert sorts(floor, "PRB-2") == ["solution"]


def test_an_item_contaminated_and_processed_since_is_held_as_it_is(floor: Floor) -> None:
    """L07: its present cycle is sound, its wearers are a question for people; so nothing falls and nothing is lifted
    without them."""
    a_tested_bath(floor)
    floor.bring("TUB-2", "ready", in_="HYP-1")
    play(
        floor,
        """
        +0 | ben  | TUB-2 used                       | accepted
        +1 | anna | HYP-2 made of hypochlorite-50ppm | accepted
        +2 | anna | HYP-2 tested 50                  | accepted
        """,
    )
    floor.bring("TUB-2", "ready", in_="HYP-2")
    play(
        floor,
        """
        +0 | anna       | HYP-1 tested 10 | held L07 H06
        +1 | cora + ben | TUB-2 lift 1    | refused H10
        """,
    )
    assert (floor.item("TUB-2").stage, sorts(floor, "TUB-2")) == ("ready", ["solution"])


def test_an_item_is_held_once_however_often_it_was_in_the_bath(floor: Floor) -> None:
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +20  | anna | break removed                        | accepted T04
        +30  | anna | disinfect start in HYP-1 at 38       | accepted
        +40  | anna | break removed                        | accepted T04
        +50  | anna | disinfect start in HYP-1 at 38       | accepted
        +170 | anna | done at 38                           | accepted
        +300 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert sorts(floor, "TUB-2") == ["solution"]
    assert sum(isinstance(entry.body, StepsFell) for entry in floor.entries("item:TUB-2")) == 1


def test_a_second_failed_test_of_a_bath_holds_nothing_again(floor: Floor) -> None:
    """E25: what people settled stays settled."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60 | anna | HYP-1 tested 10                      | held L07
        +70 | anna | HYP-1 tested 10                      | accepted L07
        """,
    )
    assert sorts(floor, "TUB-2") == ["solution"]


def test_a_condemned_item_stays_condemned_and_is_not_counted(floor: Floor) -> None:
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna       | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna       | done at 38                           | accepted
        +140 | cora + ben | condemn                              | accepted
        +300 | anna       | HYP-1 tested 10                      | accepted L07
        """,
    )
    assert (floor.item("TUB-2").stage, sorts(floor, "TUB-2")) == ("condemned", [])
    assert floor.answers[-1].reasons[0].facts["held"] == 0


def test_an_item_lost_or_in_repair_is_held_where_it_is(floor: Floor) -> None:
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60  | anna | repair                               | accepted, stage in repair
        +300 | anna | HYP-1 tested 10                      | held L07
        """,
    )
    assert (floor.item("TUB-2").stage, sorts(floor, "TUB-2")) == ("in repair", ["solution"])


def test_a_start_taken_back_as_a_mis_scan_is_no_contact(floor: Floor) -> None:
    """E14: and one that was taken back after its end runs again, and is reached."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +20 | anna | undo                                 | accepted
        +30 | anna | TUB-1 take-apart                     | accepted
        """,
    )
    floor.bring("TUB-1", "rinse-again", in_="HYP-1")
    play(
        floor,
        """
        +1 | anna | TUB-1 undo      | accepted, next disinfect
        +2 | anna | HYP-1 tested 10 | held L07
        +3 | anna | TUB-1 undo      | refused E14
        """,
    )
    assert (sorts(floor, "TUB-1"), sorts(floor, "TUB-2")) == (["solution"], [])
    assert floor.item("TUB-1").dwell is None


def test_a_respirator_falls_with_the_part_that_was_in_the_bath(floor: Floor) -> None:
    """L07, G02: the part was released and built in since."""
    a_tested_bath(floor)
    floor.bring("TUB-2", "ready", in_="HYP-1")
    assert floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-2 HED-3 FLT-3 FLT-4 BAT-3 BLT-3").accepted
    floor.bring("KIT-1", "ready")
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07")
    assert floor.item("KIT-1").stage == "used"
    assert not floor.item("KIT-1").holds
    assert floor.item("TUB-2").stage == "used"
    play(floor, "+0 | dan | KIT-1 release | held G01 G02 C02")


def test_a_respirator_is_held_with_a_part_whose_older_cycle_was_in_the_bath(floor: Floor) -> None:
    """L07, G02: nothing falls, and still nobody may use it."""
    a_tested_bath(floor)
    floor.bring("TUB-2", "ready", in_="HYP-1")
    play(
        floor,
        """
        +0 | ben  | TUB-2 used                       | accepted
        +1 | anna | HYP-2 made of hypochlorite-50ppm | accepted
        +2 | anna | HYP-2 tested 50                  | accepted
        """,
    )
    floor.bring("TUB-2", "ready", in_="HYP-2")
    assert floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-2 HED-3 FLT-3 FLT-4 BAT-3 BLT-3").accepted
    floor.bring("KIT-1", "ready")
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07 H06")
    assert (floor.item("KIT-1").stage, sorts(floor, "KIT-1")) == ("ready", ["solution"])


def test_two_parts_of_one_respirator_make_it_fall_once(floor: Floor) -> None:
    """A wipe that was found useless reaches the blower and the belt of the same respirator."""
    before = floor.item("KIT-7").number
    play(floor, "+0 | anna | QAW-1 tested failed | held L07")
    held = [name for name in ("BLW-7", "TUB-7", "BLT-7", "BAT-7") if sorts(floor, name) == ["solution"]]
    assert held == ["BLW-7", "TUB-7", "BLT-7", "BAT-7"]
    assert floor.kinds("KIT-7", before) == ["steps-fell"]
    assert floor.item("HED-7").stage == "ready"


def test_a_failed_wipe_voids_the_contact_that_runs(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in QAW-1 | accepted
        +60 | anna | QAW-1 tested failed            | held L07
        +61 | anna | BLW-2 rewet                    | refused T03
        """,
    )
