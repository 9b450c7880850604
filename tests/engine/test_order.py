"""In which order, on which side, by which method, how fast (P01-P12, T08, T11, T15, U09; E16, E34)."""

import pytest

from reprocess.engine import request as asking
from reprocess.errors import WrongUseError
from reprocess.rules.asked import Late
from reprocess.station import Call
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor


def test_steps_come_in_their_order_and_each_once(floor: Floor) -> None:
    """P01: the answer names the one next step."""
    play(
        floor,
        """
        +0  | anna | BLW-1 clean | refused P01, next take-apart, key out-of-order
        +1  | anna | inspect     | refused P01, next take-apart
        +2  | anna | take-apart  | accepted, next clean
        +3  | ben  | take-apart  | refused P01, key already-done
        +70 | anna | clean       | accepted, stage used, next clean-check
        +80 | anna | clean-check | accepted, stage cleaned, next disinfect
        +90 | ben  | release     | refused G01, next disinfect
        """,
    )


def test_who_comes_second_is_told_who_did_it_and_not_who_scanned_last(floor: Floor) -> None:
    """P01, E16"""
    play(
        floor,
        """
        +0 | anna | BLW-1 take-apart              | accepted
        +5 | cora | hold administrative scratched | held H04
        +6 | cora | lift 1                        | refused S04
        +7 | ben  | take-apart                    | held P01 H04, key already-done
        """,
    )
    facts = floor.answers[-1].reasons[0].facts
    assert (facts["by"], facts["at_us"]) == ("ANNA", OPENING_US)


def test_a_checklist_is_answered_line_by_line(floor: Floor) -> None:
    """P01: what is not answered is not good, and what is not asked is not taken."""
    play(
        floor,
        """
        +0 | anna | BLW-1 take-apart without battery-off | refused P01, key check-missing
        +1 | anna | take-apart no battery-off            | refused P13, found NOT-APART, stage used
        +2 | anna | take-apart no roof-on                | refused M08, key not-asked
        +3 | anna | take-apart                           | accepted
        """,
    )


def test_a_ready_item_takes_no_step(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | BLW-3 clean              | refused P01, key already-ready
        +1 | anna | disinfect start in QAW-1 | refused P01, stage ready
        +2 | dan  | release                  | refused P01, key already-ready
        """,
    )


@pytest.mark.parametrize(
    "cause", ["used", "dropped", "opened", "mixed", "touched", "soaked", "returned-from-repair", "found", "other"]
)
def test_whatever_contaminates_an_item_starts_it_again(floor: Floor, cause: str) -> None:
    """P02"""
    play(
        floor,
        f"""
        +0 | anna     | BLW-2 {cause}              | accepted, stage used, next take-apart
        +1 | stranger | BLW-2 {cause} class soiled | accepted, stage used
        """,
    )
    assert floor.item("BLW-2").satisfied == {}
    assert floor.item("BLW-2").cycle == 3
    assert floor.item("BLW-2").contamination_class == "soiled"


def test_an_item_dropped_after_its_release_is_used(floor: Floor) -> None:
    """E34, P02"""
    play(floor, "+0 | ben | BLW-3 dropped | accepted, stage used, next take-apart")


def test_a_contaminated_item_leaves_its_contact(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +60  | anna | dropped                        | accepted, stage used
        +180 | anna | done                           | refused P01
        """,
    )
    assert floor.kinds("BLW-2")[-2:] == ["dwell-broken", "item-contaminated"]


def test_a_fact_about_an_unknown_item_is_kept_and_an_advance_refused(floor: Floor) -> None:
    """P05"""
    before = len(floor.entries("site:LMG"))
    assert floor.ask(asking.Contaminate("BLW-99", "used")).accepted
    assert floor.ask(asking.PlaceHold("BLW-99", "identity", "no tag", "cora")).accepted
    assert floor.ask(asking.NoteItem("BLW-99", opened=True)).rules() == ("P05",)
    kept = [entry.body for entry in floor.entries("site:LMG")[before:]]
    assert [(getattr(one, "subject", ""), getattr(one, "asked", "")) for one in kept] == [
        ("item:BLW-99", "contaminate"),
        ("item:BLW-99", "place-hold"),
        ("item:BLW-99", "note-item"),
    ]
    refused = floor.ask(asking.DoStep("BLW-99", "clean"))
    assert (refused.verdict, refused.rules()) == ("refused", ("P05",))
    assert floor.ask(asking.Undo("BLW-99")).rules() == ("P05",)


def test_dirty_work_and_clean_work_have_their_side(floor: Floor) -> None:
    """P09"""
    play(
        floor,
        """
        +0  | anna @ SHELF | BLW-1 take-apart               | refused P09
        +1  | anna @ SINK  | take-apart                     | accepted
        +2  | anna @ SHELF | BLW-2 disinfect start in HPW-1 | refused P09
        +3  | anna @ SINK  | BLW-2 disinfect start in HPW-1 | accepted
        +63 | anna @ SHELF | done                           | refused P09
        +64 | anna @ SINK  | done                           | accepted
        +70 | ben @ SINK   | rinse                          | refused P09
        +80 | ben @ SHELF  | rinse                          | accepted
        +90 | dan @ SINK   | release                        | refused P09 G01
        """,
    )


def test_a_method_that_harms_is_refused_as_a_step_and_held_as_a_fact(floor: Floor) -> None:
    """P12: nobody may immerse a blower; who did so is believed."""
    play(
        floor,
        """
        +0 | anna     | BLW-2 immerse            | refused P12, key never, stage cleaned
        +1 | stranger | BLW-2 method wipe-gently | accepted, stage cleaned
        +2 | anna     | BLW-2 method immerse     | held P12, stage used, found BLW-IMMERSED
        +3 | anna     | BLW-2 take-apart         | accepted, warns H04
        """,
    )
    (hold,) = floor.item("BLW-2").holds.values()
    assert (hold.sort, hold.rule, hold.lift_two_people) == ("defect", "P12", True)


def test_a_method_that_harms_takes_a_running_contact_with_it(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +30 | anna | method spray                   | held P12
        +60 | anna | done                           | refused P01
        """,
    )


def test_a_method_used_on_a_part_takes_its_respirator_out_of_ready(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | BLW-7 method immerse | held P12, stage used
        """,
    )
    assert floor.item("KIT-7").stage == "used"


def test_a_step_faster_than_a_person_asks_why(floor: Floor) -> None:
    """T15: the time since the last scan of the same person is the most that it can have taken."""
    play(
        floor,
        """
        +0  | anna | BLW-1 take-apart                  | accepted
        +59 | anna | clean                             | refused T15
        +59 | anna | clean because it was hardly dirty | accepted, warns T15
        +60 | ben  | TUB-1 take-apart                  | accepted
        +61 | anna | TUB-1 clean                       | accepted
        """,
    )
    assert "T15" in getattr(floor.entries("item:BLW-1")[-1].body, "warned", ())


def test_a_release_faster_than_a_person_asks_why(floor: Floor) -> None:
    """T15, together with every other reason."""
    play(
        floor,
        """
        +0 | anna | OPA-1 made of opa-055 | accepted
        +1 | anna | OPA-1 tested 0.3      | accepted
        """,
    )
    floor.bring("PRB-2", "release", in_="OPA-1")
    play(
        floor,
        """
        +19 | ben | PRB-2 release without x      | refused T15
        +19 | ben | PRB-2 release no x           | refused T15 M08
        +19 | ben | release because seen by both | accepted, warns T15, stage ready
        """,
    )


def test_after_a_reboot_nobody_is_called_too_fast(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna  | BLW-1 take-apart | accepted
        +1  | clock | off 5            |
        +10 | anna  | clean            | accepted
        """,
    )


def test_residue_is_taken_off_soon_or_cleaning_begins_again(floor: Floor) -> None:
    """T08: warned after five minutes, back to cleaning after thirty."""
    play(
        floor,
        """
        +0    | anna | BLW-2 disinfect start in HPW-1 | accepted
        +60   | anna | done                           | accepted
        +360  | ben  | rinse                          | accepted
        +400  | anna | BLT-1 disinfect start in HPW-1 | accepted
        +460  | anna | done                           | accepted
        +761  | ben  | rinse                          | accepted, warns T08
        +800  | anna | TUB-5 disinfect start in HPW-1 | accepted
        +860  | anna | done                           | accepted, stage disinfected
        +2661 | ben  | rinse                          | refused T08, stage used, next clean
        +2662 | ben  | rinse                          | refused P01
        +2663 | anna | clean                          | accepted
        """,
    )


def test_half_an_hour_is_not_more_than_half_an_hour(floor: Floor) -> None:
    """T08: equality is kept."""
    play(
        floor,
        """
        +0    | anna | BLW-2 disinfect start in HPW-1 | accepted
        +60   | anna | done                           | accepted
        +1860 | ben  | rinse                          | accepted, warns T08
        """,
    )


def test_a_rinse_on_the_clock_is_late_in_the_same_way(floor: Floor) -> None:
    """T08: no dead end, cleaning is the next step."""
    play(
        floor,
        """
        +0    | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1    | anna | HYP-1 tested 50                      | accepted
        +10   | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130  | anna | done at 38                           | accepted
        +431  | ben  | rinse-again start                    | accepted, warns T08
        +490  | ben  | rinse-again start                    | refused P01, left 1
        +491  | ben  | done                                 | accepted
        +9000 | ben  | rinse-again start                    | refused P01, key already-done, stage disinfected
        +9001 | ben  | dry start                            | accepted
        """,
    )
    floor.ask(asking.Contaminate("TUB-2", "dropped"))
    floor.bring("TUB-2", "rinse-again", in_="HYP-1")
    play(
        floor,
        """
        +1801 | ben  | TUB-2 rinse-again start | refused T08, stage used, next clean
        +1802 | anna | clean                   | accepted
        """,
    )


def test_soil_that_dried_for_a_day_takes_the_longer_way(floor: Floor) -> None:
    """T11: more than 24 h after use the extended path applies, from the first step on."""
    play(
        floor,
        """
        +0     | anna | BLW-3 used ended -43200 | accepted
        +12h   | anna | take-apart              | accepted, next clean
        +12h   | anna | BLW-7 used ended -43201 | accepted
        +24h   | anna | take-apart              | accepted, next long-clean
        +24h   | ben  | clean                   | refused P01, next long-clean
        +24h   | anna | long-clean start        | accepted, left 300
        +86700 | anna | done                    | accepted, next clean
        """,
    )
    assert floor.item("BLW-7").contamination_class == "late"
    assert not floor.item("BLW-7").holds
    assert floor.kinds("BLW-7").count("delay-found") == 1


def test_soil_that_dried_for_three_days_is_held_for_a_supervisor(floor: Floor) -> None:
    """T11"""
    play(
        floor,
        """
        +0      | anna | BLW-3 used       | accepted
        +3d     | anna | BLW-3 take-apart | accepted
        +3d     | anna | BLW-7 used       | accepted
        +518401 | anna | take-apart       | accepted, stage used
        +518402 | anna | long-clean start | held H04
        +518403 | cora | lift 1           | accepted
        +518404 | anna | long-clean start | accepted
        """,
    )
    assert not floor.item("BLW-3").holds


def test_a_late_item_of_a_class_with_steps_of_its_own_is_held_too(floor: Floor) -> None:
    """T11: neither path has all the steps of the other, so a supervisor looks."""
    play(
        floor,
        """
        +0    | anna | PRB-1 used class blood | accepted
        +3601 | anna | leak-test              | accepted, next clean
        """,
    )
    assert floor.item("PRB-1").contamination_class == "blood"
    assert [hold.rule for hold in floor.item("PRB-1").holds.values()] == ["T11"]


def test_a_late_item_without_a_longer_way_is_called_late_all_the_same(floor: Floor) -> None:
    """T11"""
    play(floor, "+0 | anna | CLP-1 used ended -3601 | accepted")
    play(floor, "+0 | anna | CLP-1 clean | accepted")
    assert floor.item("CLP-1").contamination_class == "late"


def test_a_late_item_of_another_class_takes_the_late_way(floor: Floor) -> None:
    """T11: blood asks nothing of this part that the late path does not ask."""
    play(
        floor,
        """
        +0     | anna | BLW-3 used class blood | accepted
        +86401 | anna | take-apart             | accepted, next long-clean
        """,
    )


def test_a_second_report_makes_nothing_milder(floor: Floor) -> None:
    """P16: what an item carries it keeps until it is ready; a fact adds, it does not take away."""
    play(
        floor,
        """
        +0 | anna | PRB-1 used class blood | accepted
        +1 | ben  | dropped                | accepted
        +2 | anna | leak-test              | accepted
        +3 | anna | clean                  | accepted, next blood-clean
        +4 | ben  | dropped class soiled   | accepted
        """,
    )
    assert floor.item("PRB-1").contamination_class == "blood"
    assert not floor.item("PRB-1").holds
    play(
        floor,
        """
        +0 | ben | BLW-2 dropped class soiled | accepted
        +1 | ben | dropped                    | accepted
        """,
    )
    assert floor.item("BLW-2").contamination_class == "soiled"
    play(floor, "+0 | ben | BLW-2 dropped class isolation | accepted")
    assert floor.item("BLW-2").contamination_class == "isolation"


def test_two_classes_with_steps_of_their_own_are_for_a_supervisor(floor: Floor) -> None:
    """P16: neither path has all steps of the other."""
    play(
        floor,
        """
        +0 | anna | PRB-1 used class blood | accepted
        +1 | ben  | dropped class late     | accepted
        +2 | anna | leak-test              | held H04
        """,
    )
    assert floor.item("PRB-1").contamination_class == "blood"
    assert [hold.rule for hold in floor.item("PRB-1").holds.values()] == ["P16"]


def test_a_ready_item_starts_with_the_class_of_its_next_use(floor: Floor) -> None:
    play(floor, "+0 | ben | BLW-3 used class blood | accepted")
    floor.bring("BLW-3", "ready")
    play(floor, "+0 | ben | BLW-3 used | accepted")
    assert floor.item("BLW-3").contamination_class == "routine"


def test_a_use_that_has_not_ended_yet_is_taken_without_its_time(floor: Floor) -> None:
    """D05: the fact counts, the slip of the keyboard does not."""
    play(floor, "+0 | ben | BLW-3 used ended 7200 | accepted, warns D05, stage used")
    assert floor.item("BLW-3").use_ended_us is None


def test_a_drop_on_the_way_to_the_sink_does_not_make_dried_soil_fresh(floor: Floor) -> None:
    """T11: the delay counts from the earliest use since the last cleaning."""
    play(
        floor,
        """
        +0     | ben  | BLW-3 used ended -60 | accepted
        +23h   | ben  | dropped              | accepted
        +23h   | ben  | used ended 3600      | accepted
        +86342 | anna | take-apart           | accepted, next long-clean
        """,
    )


def test_an_item_never_used_is_never_late(floor: Floor) -> None:
    play(floor, "+30d | anna | BLW-1 take-apart | accepted, next clean")


def test_a_step_of_another_path_is_refused(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | BLW-1 take-apart | accepted
        +1 | anna | long-clean start | refused P01, key not-in-this-path
        """,
    )


def test_a_part_for_one_wearer_is_never_ready_twice(floor: Floor) -> None:
    """U09: used once it can only be condemned, by one person."""
    play(
        floor,
        """
        +0   | anna | ONE-1 inspect | accepted
        +60  | dan  | release       | accepted, stage ready
        +100 | anna | used          | accepted, stage used
        +110 | anna | inspect       | refused U09
        +120 | dan  | release       | refused U09 S02
        +130 | anna | condemn       | accepted, stage condemned
        """,
    )
    assert floor.answers[-2].next_steps == ()


def test_a_part_for_one_wearer_that_was_dropped_is_not_new_either(floor: Floor) -> None:
    """U09, P02: it has no step that cleans it."""
    play(
        floor,
        """
        +0  | anna | ONE-1 inspect | accepted
        +10 | anna | dropped       | accepted, stage used
        +20 | anna | inspect       | refused U09
        +30 | dan  | release       | refused U09 S02
        +40 | anna | condemn       | refused S03
        """,
    )


def test_of_two_stations_at_once_one_is_first_and_the_other_told(floor: Floor) -> None:
    """E16: both scans in one transaction; the second says who was first and when."""
    desk, clock = floor.department.desk, floor.clock
    first = Call(asking.DoStep("BLW-1", "take-apart", *take_apart(floor)), "SINK", "B-ANNA", None, clock.new_id())
    second = Call(asking.DoStep("BLW-1", "take-apart", *take_apart(floor)), "BENCH", "B-BEN", None, clock.new_id())
    one, two = desk.take_all([first, second])
    assert not isinstance(one, Exception)
    assert not isinstance(two, Exception)
    assert one.accepted
    assert (two.verdict, two.rules()) == ("refused", ("P01",))
    assert two.reasons[0].facts["by"] == "ANNA"
    assert two.reasons[0].facts["at_us"] == clock.now().wall_us
    assert floor.kinds("BLW-1").count("step-done") == 1


def take_apart(floor: Floor) -> tuple[dict[str, bool], dict[str, str], dict[str, int]]:
    step = floor.workflow("BLW-1").step_named("take-apart")
    assert step is not None
    return {one.check: True for one in step.checks}, {}, {"plugs": 3}


@pytest.mark.parametrize(
    "request_",
    [
        asking.DoStep("BLW-1", "polish"),
        asking.DoStep("BLW-1", "disinfect"),
        asking.DoStep("BLW-1", "release"),
        asking.DoStep("KIT-1", "assemble"),
        asking.StartDwell("BLW-1", "clean"),
        asking.StartDwell("BLW-1", "polish"),
        asking.BreakDwell("BLW-1", "sneezed"),
        asking.Contaminate("BLW-1", "sneezed"),
        asking.Contaminate("BLW-1", "used", "purple"),
        asking.PlaceHold("BLW-1", "mood", "bad", "cora"),
        asking.SetAside("BLW-1", "holiday", "gone"),
        asking.NoteItem("BLW-1"),
        asking.FailStep("BLW-1", "clean", ()),
        asking.FailStep("BLW-1", "clean", ("soil",)),
        asking.Assemble("BLW-1", "three-port-hepa", ()),
        asking.MakeSolution("X-1", "holy-water", "L", 2**60),
        asking.EndSolution("QAW-1", "drunk"),
        asking.EndDwell("BLW-1", late=Late(0, "P-7", 0)),
        asking.EndDwell("BLW-1", "clean", late=Late(0, "P-7", 0)),
    ],
)
def test_a_word_that_does_not_exist_is_wrong_use_and_writes_nothing(floor: Floor, request_: asking.Request) -> None:
    before = len(floor.entries("item:BLW-1")), len(floor.entries("station:BENCH"))
    with pytest.raises(WrongUseError):
        floor.ask(request_)
    assert (len(floor.entries("item:BLW-1")), len(floor.entries("station:BENCH"))) == before


def test_a_step_may_be_optional(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | TRY-1 clean                 | accepted
        +10 | anna | heat start                  | accepted
        +70 | anna | done trace 0:91 30:91 60:91 | accepted, stage disinfected
        +75 | anna | inspect                     | accepted
        +80 | ben  | release                     | accepted, stage ready
        """,
    )
