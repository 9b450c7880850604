"""The reminders of a running dwell agree with what a scan at that instant would be told, whatever the clocks do."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from reprocess.definitions.model import Workflow
from reprocess.record.moment import Moment
from reprocess.record.standing import OpenDwell, Standing
from reprocess.rules.contact import End, clock_of, judge
from reprocess.terms import SECOND_US, Stage
from reprocess.timetable import Due, for_item, is_clocked, late_s, reached
from tests.timetable.moments import at, reading

START_US = at("2026-03-05T07:08:00+00:00")
STEPS_S = (-86_400, -3600, -90, -1, 0, 1, 90, 3600, 86_400)


def contact(**changed: Any) -> OpenDwell:
    begun = reading(START_US, 0)
    opened = OpenDwell(
        step="disinfect",
        dwell="wet-contact",
        number=17,
        started=begun,
        wetted=begun,
        attempt=1,
        least_s=180,
        greatest_s=1800,
        film_s=105,
        unobserved="restart",
        solution="LMG-W1",
        agent="quat-alcohol-wipe",
        temp_c=None,
        actor="P-01",
    )
    return replace(opened, **changed)


def item(opened: OpenDwell | None) -> Standing:
    return Standing(
        item="BLW-0041",
        item_kind="blower",
        site="LMG",
        number=18,
        stage=Stage.CLEANED,
        in_service_us=START_US,
        contaminated_us=START_US - SECOND_US,
        dwell=opened,
    )


def rows(opened: OpenDwell, workflow: Workflow) -> dict[str, Due]:
    """The clocked reminders, by the last word of their key."""
    found = for_item(item(opened), workflow, "Europe/London")
    return {due.key.rpartition("/")[2]: due for due in found if is_clocked(due)}


def test_a_contact_calls_for_a_cue_its_end_and_its_longest_time(blower: Workflow) -> None:
    found = rows(contact(), blower)
    seconds = {which: (due.rule, (due.due_us - START_US) / SECOND_US) for which, due in found.items()}
    assert seconds == {
        "wet-0": ("T03", 84.0),
        "met": ("T17", 180.0),
        "confirm": ("T17", 780.0),
        "near": ("T06", 1500.0),
        "over": ("T06", 1800.0),
    }


def test_every_wetting_calls_for_another_cue(blower: Workflow) -> None:
    wetted = reading(START_US + 80 * SECOND_US, 80)
    first, second = rows(contact(), blower), rows(contact(wetted=wetted), blower)
    assert second["wet-80000000"].due_us == START_US + 164 * SECOND_US
    assert "wet-0" not in second
    assert first["met"].key == second["met"].key


def test_no_cue_comes_when_the_time_is_met_before_it(blower: Workflow) -> None:
    wetted = reading(START_US + 96 * SECOND_US, 96)
    assert not [which for which in rows(contact(wetted=wetted), blower) if which.startswith("wet")]


def test_an_attempt_after_a_broken_one_has_reminders_of_its_own(blower: Workflow) -> None:
    first, second = rows(contact(), blower), rows(contact(number=21, attempt=2), blower)
    assert not {due.key for due in first.values()} & {due.key for due in second.values()}


def test_drying_says_dry_and_a_thermal_dwell_says_nothing_of_being_met(blower: Workflow) -> None:
    drying = rows(contact(step="dry", dwell="drying", least_s=900, greatest_s=None, film_s=None), blower)
    assert {(due.rule, due.words["say"]) for due in drying.values()} == {("R02", "dry-done")}
    thermal = rows(contact(dwell="thermal", least_s=1, greatest_s=None, film_s=None), blower)
    assert thermal == {}


def test_the_reminder_before_the_longest_time_never_comes_before_the_least(blower: Workflow) -> None:
    found = rows(contact(dwell="immersion", least_s=720, greatest_s=780, film_s=None), blower)
    assert found["near"].due_us == START_US + 750 * SECOND_US


def later(second: float, step_s: int) -> Moment:
    """The clocks `second` after the start, when the wall clock was stepped meanwhile."""
    return reading(START_US + int((second + step_s) * SECOND_US), second)


@pytest.mark.parametrize("step_s", STEPS_S)
def test_the_end_rings_when_a_scan_of_it_would_be_accepted(blower: Workflow, step_s: int) -> None:
    opened = contact(film_s=None)
    met = rows(opened, blower)["met"]
    for tenth in range(1700, 2000):
        now = later(tenth / 10, step_s)
        assert reached(met, now) == (judge(opened, now).end is End.MET), tenth


@pytest.mark.parametrize("step_s", STEPS_S)
def test_the_cue_rings_when_the_clock_on_the_screen_says_wet_again(blower: Workflow, step_s: int) -> None:
    opened = contact()
    cue = rows(opened, blower)["wet-0"]
    for second in range(180):
        now = later(second, step_s)
        shown = clock_of(opened, now)
        assert reached(cue, now) == (shown.rewet_s == 0), second


@pytest.mark.parametrize("step_s", STEPS_S)
def test_the_longest_time_rings_before_it_is_passed(blower: Workflow, step_s: int) -> None:
    opened = contact()
    over = rows(opened, blower)["over"]
    for second in range(1700, 1900):
        now = later(second, step_s)
        if judge(opened, now).over:
            assert reached(over, now), second
    assert reached(over, later(1800, 0)) is True
    assert reached(over, later(1799.9, 0)) is False


def test_in_another_boot_only_the_wall_clock_is_left(blower: Workflow) -> None:
    met = rows(contact(), blower)["met"]
    assert not reached(met, reading(START_US + 179 * SECOND_US, 5000, boot="boot-2"))
    assert reached(met, reading(START_US + 180 * SECOND_US, 1, boot="boot-2"))
    assert not reached(met, reading(START_US + 179 * SECOND_US, 5000, node="bench-2"))


def test_lateness_is_counted_by_the_clock_that_rang(blower: Workflow) -> None:
    met = rows(contact(), blower)["met"]
    assert late_s(met, later(182.9, -3600)) == 2
    assert late_s(met, later(182.9, 0)) == 2
    assert late_s(met, reading(START_US + 3 * 3600 * SECOND_US, 1, boot="boot-2")) == 3 * 3600 - 180


def test_a_reading_without_a_boot_time_clock_serves_too(blower: Workflow) -> None:
    begun = replace(reading(START_US, 0), running_us=None)
    met = rows(contact(started=begun, wetted=begun), blower)["met"]
    assert "running_us" not in met.words
    assert reached(met, later(180, 0)) is True
    assert reached(met, later(179, 0)) is False


def test_a_step_that_the_workflow_no_longer_names_waits_the_default_time(blower: Workflow) -> None:
    found = rows(contact(step="soak"), blower)
    assert found["confirm"].due_us == START_US + 780 * SECOND_US


def test_what_is_finished_reminds_of_nothing(blower: Workflow) -> None:
    assert not [due for due in for_item(item(None), blower, "Europe/London") if is_clocked(due)]
