"""Every wrong scan that we can think of, at every step of every kind of item, and every turn beside the path."""

from __future__ import annotations

import pytest

from tests.oracle.fold import stage
from tests.properties.scans import KIT
from tests.properties.script import IN_PIECES, IN_SOLUTION, WHEN_READY, Climb, Event, Script, Time, Twist
from tests.properties.template import Template

KINDS = (
    "BLW-1", "BLW-2", "TUB-1", "TUB-2", "TUB-3", "HED-1", "ONE-1", "FLT-1", "FLT-2", "BAT-1", "BLT-1", "BLT-2", "GSK-1",
    "PLG-1", "RSP-1",
)  # fmt: skip
"""One item of each workflow, and a second one at the other site where that differs."""
ENDS = {"ONE-1": "used", "FLT-2": "inspected"}
"""Items that end short of ready: no longer new, opened too long ago."""


@pytest.mark.parametrize("item", KINDS)
def test_no_wrong_scan_at_any_step_leads_to_ready(item: str, larkmoor: Template) -> None:
    """I1, I2, I3, I4, I9: each wrong scan is made once at each step; afterwards the good ones still lead to ready."""
    with larkmoor.opened((item,)) as play:
        play.sweep(item)
        play.close_the_book()
        assert stage(play.world, play.world["items"][item]) == ENDS.get(item, "ready")


@pytest.mark.parametrize("what", IN_SOLUTION)
@pytest.mark.parametrize("item", ["BLW-1", "TUB-1", "TUB-3", "BLT-2"])
def test_nothing_that_befalls_a_bath_slips_past_its_items(item: str, what: str, larkmoor: Template) -> None:
    """I1, I7: whatever happens to the solution, or to an item in it, the item is judged by it."""
    for choice in range(4):
        larkmoor.play(Script((item,), (Twist(0, what, choice), Climb(0, 24))))


@pytest.mark.parametrize("what", WHEN_READY)
def test_a_whole_is_ready_only_as_long_as_each_part_is(what: str, larkmoor: Template) -> None:
    """I1, I7: whatever happens to a part, the assembly that holds it falls or is held."""
    for choice in range(len(KIT) + 1):
        larkmoor.play(Script(("RSP-1", *KIT), (Twist(0, what, choice), Climb(0, 8))))


@pytest.mark.parametrize("what", IN_PIECES)
def test_nothing_is_put_together_from_parts_that_are_not_ready(what: str, larkmoor: Template) -> None:
    """C02, C09, G02: whatever befell a part just before, the assembly is refused."""
    for choice in range(len(KIT)):
        larkmoor.play(Script(("RSP-1", *KIT), (Twist(0, what, choice), Climb(0, 4))))


def test_work_that_fell_is_no_second_pair_of_eyes(larkmoor: Template) -> None:
    """S02: FINN's cleaning falls; BEN cleans, inspects and may not release what nobody else worked on."""
    fails = Event(0, "fail", "B-FINN-1", None, None, 0)
    larkmoor.play(Script(("GSK-2",), (Climb(0, 1, by="B-FINN-1"), fails, Climb(0, 8, by="B-BEN-1"))))


def test_a_package_out_of_date_when_it_came_stays_so_when_the_clock_is_set_back(larkmoor: Template) -> None:
    """T12"""
    larkmoor.play(Script(("ONE-2",), (Time("step", -90_000.0), Climb(0, 2))))


def test_taking_apart_in_time_does_not_stop_the_clock_of_cleaning(larkmoor: Template) -> None:
    """T11: only cleaning does."""
    larkmoor.play(Script(("KIT-TUB",), (Climb(0, 2), Time("pass", 90_000.0), Climb(0, 1))))
