"""What is measured, counted and looked at (M01-M11, T07, T09, T10)."""

import pytest

from reprocess.engine.enrolling import Enrol
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import LATER_US, Floor


def at_the_flow_test(floor: Floor) -> None:
    floor.bring("BLW-2", "functional-test")


def bath(floor: Floor, agent: str = "hypochlorite-50ppm", reading: str = "50") -> None:
    play(
        floor,
        f"""
        +0 | anna | BTH-1 made of {agent}  | accepted
        +1 | anna | BTH-1 tested {reading} | accepted
        """,
    )


def test_a_flow_at_its_limit_is_enough_and_one_below_holds_the_blower(floor: Floor) -> None:
    """M03: limits include equality; what is below is a fact, and the blower goes to repair."""
    at_the_flow_test(floor)
    play(
        floor,
        """
        +0 | ben | BLW-2 functional-test flow_l_per_min=169.99 | held M03, stage used, found BLW-FLOW
        """,
    )
    (hold,) = floor.item("BLW-2").holds.values()
    assert (hold.sort, hold.cause) == ("defect", "BLW-FLOW")


def test_a_flow_that_is_enough_passes(floor: Floor) -> None:
    at_the_flow_test(floor)
    play(floor, "+0 | ben | BLW-2 functional-test flow_l_per_min=170 | accepted, next release")
    body = floor.entries("item:BLW-2")[-1].body
    assert body.model_dump()["limits"] == {"flow_l_per_min": "170.. L/min"}


def test_a_flow_not_measured_is_no_flow(floor: Floor) -> None:
    """M01"""
    at_the_flow_test(floor)
    play(
        floor,
        """
        +0 | ben | BLW-2 functional-test without flow_l_per_min | refused M01
        +1 | ben | functional-test without alarm-heard          | refused P01
        +2 | ben | functional-test no alarm-heard               | held M04, found BLW-ALARM
        """,
    )


@pytest.mark.parametrize(("text", "answer"), [("400", "accepted"), ("0", "held M03")])
def test_the_ends_of_what_is_believed_are_believed(floor: Floor, text: str, answer: str) -> None:
    """M08, M03"""
    at_the_flow_test(floor)
    play(floor, f"+0 | ben | BLW-2 functional-test flow_l_per_min={text} | {answer}")


@pytest.mark.parametrize("text", ["401", "-1", "NaN", "1e999", "20,5", "68F", "inf", "0x10", "1" * 80])
def test_a_value_that_cannot_be_one_is_asked_again(floor: Floor, text: str) -> None:
    """M08: it is no fact yet, so nothing is recorded of the item."""
    at_the_flow_test(floor)
    before = floor.item("BLW-2").number
    play(floor, f"+0 | ben | BLW-2 functional-test flow_l_per_min={text} | refused M08")
    assert floor.item("BLW-2").number == before


def test_a_measurement_names_a_verified_instrument(floor: Floor) -> None:
    """M02: none, unknown, of another sort, out of date, never verified, found faulty."""
    at_the_flow_test(floor)
    office = floor.department.station("BENCH", badge="B-CORA")
    assert office.enrol(Enrol("instrument:FI-3", words.InstrumentFaulty(finding="sticks"))).accepted
    play(
        floor,
        """
        +0 | ben | BLW-2 functional-test without instrument | refused M02, key instrument-needed
        +1 | ben | functional-test with FI-99               | refused M02, key instrument-needed
        +2 | ben | functional-test with TH-1                | refused M02, key instrument-sort
        +3 | ben | functional-test with FI-2                | refused M02, key instrument-unverified
        +4 | ben | functional-test with FI-4                | refused M02, key instrument-unverified
        +5 | ben | functional-test with FI-3                | refused M02, key instrument-faulty
        """,
    )
    now_us = floor.clock.now().wall_us
    assert office.enrol(Enrol("instrument:FI-3", words.InstrumentVerified(until_us=now_us, reference="C-8"))).accepted
    play(floor, "+0 | ben | BLW-2 functional-test with FI-3 | refused M02, key instrument-unverified")
    assert office.enrol(Enrol("instrument:FI-3", words.InstrumentVerified(until_us=LATER_US, reference="C-9"))).accepted
    play(floor, "+0 | ben | BLW-2 functional-test with FI-3 | accepted")
    assert floor.item("BLW-2").satisfied["functional-test"].instrument == "FI-3"


def test_a_wrong_count_is_a_failed_step(floor: Floor) -> None:
    """M07: three ports, three plugs during wet work."""
    play(
        floor,
        """
        +0 | anna | BLW-1 take-apart plugs=2 | refused M07, found PLUG-MISSING, key count-wrong
        +1 | anna | take-apart without plugs | refused M07, key count-missing
        +2 | anna | take-apart plugs=4       | refused M07
        +3 | anna | take-apart plugs=3       | accepted
        """,
    )


def test_a_leak_holds_a_part_before_anything_is_wetted(floor: Floor) -> None:
    """M11"""
    play(
        floor,
        """
        +0 | anna | PRB-1 leak-test pressure_drop_kpa=1.01 | held M11, found LEAK
        +1 | anna | clean                                  | refused P01, next leak-test
        +2 | anna | leak-test pressure_drop_kpa=1          | accepted, warns H04
        """,
    )


def test_a_bath_too_warm_or_too_cold_does_not_start(floor: Floor) -> None:
    """T07: the label's range, and the item's own ceiling."""
    bath(floor)
    play(
        floor,
        """
        +0   | anna | TUB-2 disinfect start in BTH-1    | refused T07, key temperature-missing
        +1   | anna | disinfect start in BTH-1 at 43.1  | refused T07, key too-warm
        +2   | anna | disinfect start in BTH-1 at 68F   | refused M08
        +3   | anna | disinfect start in BTH-1 at 100.1 | refused M08, key implausible
        +4   | anna | disinfect start in BTH-1 at 43    | accepted
        +124 | anna | done                              | refused T07, key temperature-missing
        +125 | anna | done at hot                       | refused M08
        +126 | anna | done at 43                        | accepted
        """,
    )


def test_a_temperature_once_asked_is_asked_again(floor: Floor) -> None:
    """T07: given at the start it is due at the end, also where the label sets no limit."""
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 at 20 | accepted
        +60 | anna | done                                 | refused T07, key temperature-missing
        +61 | anna | done at 21                           | accepted
        """,
    )


def test_the_ceiling_of_the_item_asks_for_the_temperature_too(floor: Floor) -> None:
    """T07: where the label sets no limit."""
    play(
        floor,
        """
        +0 | anna | PLN-1 made of bath-plain             | accepted
        +1 | anna | PRB-2 disinfect start in PLN-1       | refused T07, key temperature-missing
        +2 | anna | PRB-2 disinfect start in PLN-1 at 41 | refused T07, key too-warm
        +3 | anna | PRB-2 disinfect start in PLN-1 at 40 | accepted, left 60
        """,
    )


def test_a_bath_below_its_label_does_not_start(floor: Floor) -> None:
    bath(floor, "opa-055", "0.3")
    play(
        floor,
        """
        +0 | anna | PRB-2 disinfect start in BTH-1 at 19.9 | refused T07, key off-label-temperature
        +1 | anna | disinfect start in BTH-1 at 20         | accepted, left 720
        """,
    )


def test_a_contact_that_ends_off_its_label_is_void(floor: Floor) -> None:
    """T07: at its end too; a temperature is no mis-scan."""
    bath(floor, "opa-055", "0.3")
    play(
        floor,
        """
        +0   | anna | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +720 | anna | done at 19                           | refused T07, key off-label-temperature
        +721 | anna | undo                                 | refused E14, key cannot-undo
        +722 | anna | done at 21                           | refused P01
        """,
    )


def test_a_contact_that_ends_too_warm_for_the_item_holds_it(floor: Floor) -> None:
    """T07: above 43 degC a rubber part is looked at again."""
    bath(floor)
    play(
        floor,
        """
        +0   | anna | TUB-2 disinfect start in BTH-1 at 42 | accepted
        +120 | anna | done at 44                           | held T07, key too-warm, stage cleaned
        """,
    )
    assert [hold.sort for hold in floor.item("TUB-2").holds.values()] == ["over-exposed"]


def test_a_bath_that_cooled_down_needs_the_longer_time(floor: Floor) -> None:
    """T07, T01: nothing is interpolated, the stricter row holds to the end."""
    bath(floor, "bath-half-day", "0.3")
    play(
        floor,
        """
        +0   | anna | PRB-2 disinfect start in BTH-1 at 25 | accepted, left 600
        +600 | anna | done at 24.9                         | refused T01, wait 120
        +719 | anna | done at 24                           | refused T01, wait 1
        +720 | anna | done at 24                           | accepted
        """,
    )
    assert getattr(floor.entries("item:PRB-2")[-1].body, "least_s", 0) == 720


def test_a_bath_that_warmed_up_gets_no_shorter_time(floor: Floor) -> None:
    bath(floor, "bath-half-day", "0.3")
    play(
        floor,
        """
        +0   | anna | PRB-2 disinfect start in BTH-1 at 24 | accepted, left 720
        +600 | anna | done at 26                           | refused T01, wait 120
        +720 | anna | done at 26                           | accepted
        """,
    )


def test_drying_takes_its_time_and_a_look(floor: Floor) -> None:
    """T09: too early is refused; still wet when it is over is a fact, and drying begins again."""
    floor.bring("BLW-2", "dry")
    play(
        floor,
        """
        +0    | ben | BLW-2 dry start  | accepted, left 900
        +300  | ben | done no dry      | refused T09, key too-early, left 600
        +899  | ben | done             | refused T09, left 1
        +900  | ben | done without dry | refused P01
        +901  | ben | done no dry      | refused T09, key check-failed, found PART-WET, next dry
        +902  | ben | done             | refused P01
        +910  | ben | dry start        | accepted
        +1810 | ben | done             | accepted, stage dried
        """,
    )


def test_a_tube_with_air_inside_is_out_of_its_bath_at_once(floor: Floor) -> None:
    """T01: waiting does not fill it, so what was said before the time is over counts."""
    bath(floor)
    play(
        floor,
        """
        +0   | anna | TUB-2 disinfect start in BTH-1 at 38 | accepted
        +60  | anna | done at 38 no lumen-filled           | refused T01, found AIR-POCKET
        +120 | anna | done at 38                           | refused P01
        """,
    )


def test_aeration_ends_by_time_or_by_a_residual_in_its_limit(floor: Floor) -> None:
    """T10"""
    bath(floor, "opa-055", "0.3")
    floor.bring("PRB-2", "air", in_="BTH-1")
    play(
        floor,
        """
        +0   | ben | PRB-2 air start        | accepted, left 600
        +100 | ben | done                   | refused T10, left 500
        +101 | ben | done residual_ppm=1.01 | refused T10, left 499
        +102 | ben | done residual_ppm=much | refused T10 M08
        +103 | ben | done residual_ppm=1    | accepted, stage dried
        """,
    )


def test_aeration_that_took_its_time_with_a_residual_over_its_limit_has_failed(floor: Floor) -> None:
    bath(floor, "opa-055", "0.3")
    floor.bring("PRB-2", "air", in_="BTH-1")
    play(
        floor,
        """
        +0    | ben | PRB-2 air start        | accepted
        +600  | ben | done residual_ppm=1.01 | refused T10, key reading-out
        +601  | ben | air start              | accepted, left 600
        +1201 | ben | done                   | accepted, stage dried
        """,
    )


def test_heat_is_measured_by_its_dose(floor: Floor) -> None:
    """T01 by A0 = 600 s at 80 degC: the cooler of two samples holds between them."""
    play(
        floor,
        """
        +0  | anna | TRY-1 clean                 | accepted
        +10 | anna | heat start                  | accepted, left 1
        +70 | anna | done trace 0:80 30:80 60:80 | refused T01, key dose-short
        +71 | anna | done                        | refused M08
        +72 | anna | done trace 0:80 30:warm     | refused M08
        +73 | anna | done trace 0:80 30:NaN      | refused M08
        +73 | anna | done trace 0:80 30:sNaN     | refused M08, key trace-unreadable
        +73 | anna | done trace 0:95 3_0:95      | refused M08, key trace-unreadable
        +73 | anna | done trace 0:95 30:9.5e1    | refused M08, key trace-unreadable
        +73 | anna | done trace 0:95 30:٩٥       | refused M08, key trace-unreadable
        +74 | anna | done trace 0:95 600:95      | refused M08, key trace-unreadable
        +75 | anna | done trace 0:95 30:95 60:95 | accepted, stage disinfected
        """,
    )
    assert getattr(floor.entries("item:TRY-1")[-1].body, "dose_a0_s", "") == "1897.4"


def test_a_trace_is_never_longer_than_the_dwell(floor: Floor) -> None:
    """M08: heat that was on record before the item was in it heated something else."""
    play(
        floor,
        """
        +0  | anna | TRY-1 clean                 | accepted
        +10 | anna | heat start                  | accepted
        +15 | anna | done trace 0:95 30:95 60:95 | refused M08, key trace-unreadable
        """,
    )


def test_a_trace_may_bridge_a_power_cut_with_two_people(floor: Floor) -> None:
    """E07: the logger went on, the wall clock tells how long it can have been."""
    play(
        floor,
        """
        +0   | anna       | TRY-1 clean                              | accepted
        +10  | anna       | heat start                               | accepted
        +20  | clock      | off 100                                  |
        +130 | anna + ben | done undisturbed trace 0:95 60:95 120:95 | accepted, stage disinfected
        """,
    )
