"""Batteries and the bays that charge them (B01-B07, C08)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.engine.enrolling import Commission, Enrol
from reprocess.record import words
from reprocess.rules import batteries, life
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.test_lots import dues
from tests.engine.test_recurring import faulty


def bay(
    floor: Floor, name: str, *, models: tuple[str, ...] | None = None, window: tuple[str, str] | None = None
) -> None:
    """Registers a bay of charger CHG-1, verified until the end of the year."""
    low, high = window if window is not None else (None, None)
    body = words.InstrumentRegistered(
        sort="charger-bay", site="LMG", part_of="CHG-1", models=models, least_c=low, most_c=high
    )
    office = floor.department.station("BENCH", badge="B-CORA")
    assert office.enrol(Enrol(f"instrument:{name}", body)).accepted
    until_us = floor.clock.now().wall_us + 200 * DAY_S * SECOND_US
    assert office.enrol(
        Enrol(f"instrument:{name}", words.InstrumentVerified(until_us=until_us, reference="R"))
    ).accepted


def commission(floor: Floor, item: str, workflow: str, model: str) -> None:
    """Commissions an item at the bench."""
    office = floor.department.station("BENCH", badge="B-CORA")
    assert office.enrol(Commission(item, workflow, model)).accepted


def test_a_damaged_battery_is_a_hazard_and_is_never_charged(floor: Floor) -> None:
    """B01: held and cautioned, not charged, whatever step finds it; two people lift it."""
    floor.bring("BAT-8", "charge")
    play(
        floor,
        """
        +10000 | ben       | BAT-8 inspect no case-whole | held B01, found BAT-BULGE
        +10001 | ben       | charge start                | held B01 H04
        +10002 | ben       | note charge 1               | accepted
        +10003 | cora + ben | lift 1                     | refused H10
        +10004 | gus + ben | lift 1                      | accepted
        +10005 | ben       | charge start                | accepted
        """,
    )
    assert floor.answers[-6].caution == "battery"
    assert floor.answers[-5].caution == "battery"
    commission(floor, "BAT-20", "battery-pack", "LP-1")
    play(floor, "+10006 | anna | BAT-20 fail clean BAT-BULGE | held H01")
    assert [(one.sort, one.rule) for one in floor.item("BAT-20").holds.values()] == [("battery-hazard", "B01")]
    play(floor, "+10007 | anna | BAT-3 hold battery-hazard smells hot | held H04")
    assert floor.answers[-1].caution == "battery"


def test_a_battery_is_charged_only_clean_and_dry(floor: Floor) -> None:
    """B02"""
    floor.bring("BAT-8", "rinse")
    answer = play(floor, "+20000 | ben | BAT-8 charge start | refused B02 P01")[0]
    assert [one.key for one in answer.reasons if one.rule == "B02"] == ["battery-wet"]


def test_a_battery_is_charged_in_a_bay_for_its_model_and_warm_enough(floor: Floor) -> None:
    """B02, C08: the window includes its ends; a bay whose charger is out of use charges nothing."""
    floor.bring("BAT-8", "charge")
    commission(floor, "CHG-1", "charger", "LN-3")
    bay(floor, "BAY-11", models=("LP-1",))
    bay(floor, "BAY-12", models=("LP-1", "LP-9"), window=("10", "35"))
    play(
        floor,
        """
        +20000 | ben | BAT-8 charge start with BAY-11         | refused C08
        +20001 | ben | BAT-8 charge start with BAY-12         | refused B02, key charge-temp-missing
        +20002 | ben | BAT-8 charge start with BAY-12 at 9.9  | refused B02, key charge-temp-out
        +20003 | ben | BAT-8 charge start with BAY-12 at 35.1 | refused B02, key charge-temp-out
        +20003 | ben | BAT-8 charge start with BAY-12 at warm | refused M08
        +20004 | ben | CHG-1 hold administrative smells       | held H04
        +20005 | ben | BAT-8 charge start with BAY-12 at 10   | refused B02, key charger-out
        +20006 | cora | CHG-1 lift 1                          | accepted
        +20007 | ben | BAT-8 charge start with BAY-12 at 35   | accepted
        """,
    )


def test_what_a_faulty_bay_charged_is_charged_again(floor: Floor) -> None:
    """B02, H08: every charge that it gave is in doubt; other bays' charges stand."""
    assert floor.item("BAT-3").satisfied["charge"].instrument == "BAY-1"
    assert set(faulty(floor, "BAY-1")) >= {"BAT-3", "BAT-7"}
    assert "charge" not in floor.item("BAT-3").satisfied
    play(floor, "+1 | dan | BAT-3 release | refused G01")


def test_a_battery_that_is_not_charged_does_not_go_out(floor: Floor) -> None:
    """B03, B04: charged in this cycle, and not longer than thirty days ago."""
    part = floor.department.part("BAT-3")
    assert part is not None
    charged_us = part.standing.satisfied["charge"].ended.wall_us
    at_us = charged_us + 30 * DAY_S * SECOND_US
    assert batteries.at_issue(part, at_us) == []
    (told,) = batteries.at_issue(part, at_us + 1)
    assert (told.rule, told.key, told.facts["days"]) == ("B04", "top-up", 30)
    empty = replace(part, standing=replace(part.standing, satisfied={}))
    assert [one.rule for one in batteries.at_issue(empty, at_us)] == ["B03"]
    blower = floor.department.part("BLW-3")
    assert blower is not None
    assert batteries.at_issue(blower, at_us) == []


def test_an_idle_battery_is_topped_up(floor: Floor) -> None:
    """B04, R05: seven days ahead, and after thirty days."""
    play(floor, "+1 | ben | BAT-3 note minutes 1 | accepted")
    found = [due for due in dues(floor, "item:BAT-3") if due.startswith("B04")]
    assert [due.rpartition("/")[2] for due in found] == ["near", "over"]


def test_the_capacity_test_has_thirty_days_of_grace(floor: Floor) -> None:
    """B05: 183 days, then a warning for 30 days, then no release; 50 charges allow no grace."""
    part = floor.department.part("BAT-3")
    assert part is not None
    since_us = part.standing.in_service_us

    def told(days: int, charges: int = 0) -> tuple[list[str], list[str]]:
        item = replace(part.standing, charge_cycles=charges)
        reasons, warnings = life.in_life(part.workflow, item, since_us + days * DAY_S * SECOND_US)
        return [one.key for one in reasons], [one.key for one in warnings if one.rule == "B05"]

    assert told(164) == ([], [])
    assert told(165) == ([], ["recurring-near"])
    assert told(183) == ([], ["recurring-grace"])
    assert told(212) == ([], ["recurring-grace"])
    assert told(213) == (["recurring-due"], [])
    assert told(0, 50) == (["recurring-due"], [])


@pytest.mark.parametrize(("minutes", "early"), [(167, True), (168, False)])
def test_an_alarm_long_before_its_time_calls_for_a_capacity_test(floor: Floor, minutes: int, early: bool) -> None:  # noqa: FBT001
    """B06, B07: 80 percent of the 210 minutes until the alarm are 168; sooner holds the battery and is told."""
    for step in floor.workflow("KIT-7").wearing.put_on:  # type: ignore[union-attr]
        play(floor, f"| gus + ben | KIT-7 put-on {step.step} | accepted")
    play(floor, f"+{minutes}m | gus | KIT-7 signal low-battery | {'held B07 B06' if early else 'accepted B07'}")
    battery = floor.item("BAT-7")
    assert [one.rule for one in battery.holds.values()] == (["B06"] if early else [])
    assert ("capacity-test" in battery.passes) is early
    if early:
        assert battery.passes["capacity-test"].at_us is None
        part = floor.department.part("BAT-7")
        assert part is not None
        assert "capacity-test" in life.due_steps(part.workflow, battery, floor.clock.now().wall_us)


def test_a_battery_changed_in_use_begins_its_own_run(floor: Floor) -> None:
    """B06: the run counts from the change."""
    for step in floor.workflow("KIT-7").wearing.put_on:  # type: ignore[union-attr]
        play(floor, f"| gus + ben | KIT-7 put-on {step.step} | accepted")
    play(
        floor,
        """
        +200m | gus | KIT-7 signal low-battery | accepted B07
        +201m | gus | KIT-7 swap battery BAT-3 | accepted
        """,
    )
    play(floor, "+100m | gus | KIT-7 signal low-battery | held B07 B06")
    assert [one.rule for one in floor.item("BAT-3").holds.values()] == ["B06"]
    assert floor.item("BAT-7").holds == {}
