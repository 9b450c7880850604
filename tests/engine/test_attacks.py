"""Ways to ready that an adversary found, each of them shut; the first line of each test says what was tried."""

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission, Enrol
from reprocess.record import words
from reprocess.rules.answer import Verdict
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor

LATER_US = OPENING_US + 300 * DAY_S * SECOND_US


def bath(floor: Floor, name: str) -> None:
    floor.ask(asking.MakeSolution(name, "hypochlorite-50ppm", "L", LATER_US), "anna")
    floor.ask(asking.TestSolution(name, "S", LATER_US, reading="50", read_after_s=80), "anna")


def fails(floor: Floor, name: str) -> None:
    floor.ask(asking.TestSolution(name, "S", LATER_US, reading="10", read_after_s=80), "anna")


def test_a_wall_clock_corrected_backwards_hides_no_contact_from_a_failed_bath(floor: Floor) -> None:
    """L07, I6: the pass was recorded at a wall time that the contact never reached."""
    floor.bring("TUB-1", "disinfect")
    floor.clock.step_wall(8 * 3600)
    bath(floor, "HYP-9")
    floor.clock.step_wall(-8 * 3600)
    floor.clock.push(60)
    floor.bring("TUB-1", "ready", in_="HYP-9")
    fails(floor, "HYP-9")
    assert floor.item("TUB-1").stage != "ready"
    assert floor.item("TUB-1").held


def test_a_bath_made_anew_under_its_old_id_still_answers_for_what_it_was(floor: Floor) -> None:
    """L07, H06: the result may belong to the earlier bath."""
    bath(floor, "HYP-9")
    floor.bring("TUB-2", "ready", in_="HYP-9")
    floor.ask(asking.EndSolution("HYP-9", "dumped"), "anna")
    floor.ask(asking.MakeSolution("HYP-9", "hypochlorite-50ppm", "L", LATER_US), "anna")
    fails(floor, "HYP-9")
    assert floor.item("TUB-2").held


def test_a_respirator_that_was_immersed_is_held_with_its_blower(floor: Floor) -> None:
    """P12: the kit has no such rule, its blower has."""
    answer = floor.ask(asking.ReportMethod("KIT-7", "immerse"), "ben")
    assert answer.verdict is Verdict.HELD
    assert floor.item("BLW-7").held
    assert (floor.item("KIT-7").stage, floor.item("BLW-7").stage) == ("used", "used")


def test_the_parts_of_a_respirator_that_is_lost_or_in_repair_do_not_stay_ready(floor: Floor) -> None:
    """C02, P02: whoever finds one of them processes it."""
    members = tuple(floor.item("KIT-7").members.values())
    floor.ask(asking.SetAside("KIT-7", "lost", "not in the cabinet"), "ben")
    assert {floor.item(one).stage for one in members} == {"lost"}
    assert floor.item("KIT-7").members == {}


def test_what_somebody_saw_dried_is_no_mis_scan(floor: Floor) -> None:
    """T04, E31: undoing it would count the dry time."""
    floor.bring("BLW-1", "disinfect")
    play(
        floor,
        """
        +0  | anna | BLW-1 disinfect start in QAW-1 | accepted
        +50 | anna | break dried                    | accepted T04
        +60 | anna | undo                           | refused E14
        """,
    )


def test_a_nameless_tester_passes_no_bath_and_makes_none(floor: Floor) -> None:
    """A01, L03."""
    made = floor.ask(asking.MakeSolution("HYP-9", "hypochlorite-50ppm", "L", LATER_US), "stranger")
    assert made.rules() == ("A01",)
    floor.ask(asking.MakeSolution("HYP-9", "hypochlorite-50ppm", "L", LATER_US), "anna")
    passed = asking.TestSolution("HYP-9", "S", LATER_US, reading="50", read_after_s=80)
    assert floor.ask(passed, "stranger").rules() == ("L08",)
    assert floor.department.solution("HYP-9").passed_us is None


def test_the_stricter_contact_floor_counts_wherever_the_item_is_worked_on(floor: Floor) -> None:
    """T01: the item's own site asks for 240 s."""
    floor.department.station("FENHOLLOW", badge="B-CORA").enrol(Commission("BLW-F", "blower", "LB-3"))
    floor.bring("BLW-F", "disinfect")
    floor.ask(asking.StartDwell("BLW-F", "disinfect", "QAW-1"), "anna")
    opened = floor.item("BLW-F").dwell
    assert opened is not None
    assert opened.least_s == 240


def test_an_instrument_found_faulty_since_bars_the_release_that_rests_on_it(floor: Floor) -> None:
    """M02, H08."""
    floor.bring("BLW-1", "release")
    faulty = words.InstrumentFaulty(finding="sticks")
    assert floor.department.station("BENCH", badge="B-CORA").enrol(Enrol("instrument:FI-1", faulty)).accepted
    play(floor, "+60 | dan | BLW-1 release | refused G01, key steps-missing")


def test_nobody_grants_a_competency_to_themselves(floor: Floor) -> None:
    """A08."""
    granted = words.CompetencyGranted(competency="inspect", from_us=0, until_us=LATER_US, assessor="Nobody")
    answer = floor.department.station("BENCH", badge="B-CORA").enrol(Enrol("person:CORA", granted))
    assert answer.rules() == ("A08",)


def test_a_start_that_was_broken_off_is_no_second_pair_of_hands(floor: Floor) -> None:
    """S02: Ben started and stopped, Anna did everything."""
    floor.bring("BLW-1", "disinfect")
    floor.ask(asking.StartDwell("BLW-1", "disinfect", "QAW-1"), "ben")
    floor.ask(asking.BreakDwell("BLW-1", "dried"), "ben")
    hands = floor.item("BLW-1").hands
    assert set(hands) == {"ANNA", "BEN"}
    assert "S02" in floor.ask(asking.Release("BLW-1"), "anna").rules()


def test_the_parts_list_of_an_assembly_is_corrected_by_its_step_alone(floor: Floor) -> None:
    """D01: accepted and without effect would be the worst of both."""
    built = next(one.number for one in floor.entries("item:KIT-7") if one.kind == "assembly-built")
    answer = floor.ask(asking.Correct("KIT-7", built, "miscounted", counts={"plugs": 0}), "ben", second="cora")
    assert answer.rules() == ("D01",)
