"""A half mask is put on with its seal checked, worn and taken off by its straps (U03, U08, H05)."""

import pytest

from reprocess.definitions.wearing import Wearing
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, OPENING_US, Floor

PUT_ON = """
+10 | gus | HMR-1 put-on own-size        | accepted
+20 | gus | put-on look-over             | accepted
+30 | gus | put-on filters               | accepted
+40 | gus | put-on straps                | accepted
+50 | gus | put-on seal-check            | accepted
"""
MASK = "HMK-1"
FILTERS = ("HMF-1", "HMF-2")


@pytest.fixture
def masked(floor: Floor) -> Floor:
    """Returns the department with a ready half mask of two filters."""
    bench = floor.department.station("BENCH", badge=BADGES["cora"])
    for item, workflow, model in (
        (MASK, "half-mask-one-step", "LM-M"),
        *((item, "hepa-cartridge", "LF-M") for item in FILTERS),
        ("HMR-1", "half-mask-respirator", "LM-2"),
    ):
        assert bench.enrol(Commission(item, workflow, model)).accepted
    until_us = OPENING_US + 9 * DAY_S * SECOND_US
    assert floor.ask(asking.MakeSolution("ONE-1", "quat-one-step", "LOT-1", until_us)).accepted
    assert floor.ask(asking.TestSolution("ONE-1", "STRIPS-1", until_us, "400", read_after_s=80)).accepted
    floor.bring(MASK, "ready", in_="ONE-1", temp="20")
    for item in FILTERS:
        floor.bring(item, "ready")
    built = floor.build("HMR-1", "half-mask-two-filters", " ".join((MASK, *FILTERS)), plugs=0)
    assert built.accepted, built.reasons
    floor.bring("HMR-1", "ready")
    return floor


def wearing_of(floor: Floor) -> Wearing:
    found = floor.workflow("HMR-1").wearing
    assert found is not None
    return found


def test_it_is_put_on_worn_and_taken_off(masked: Floor) -> None:
    play(masked, PUT_ON)
    assert masked.item("HMR-1").wear is not None
    play(
        masked,
        """
        +600 | gus + ben | HMR-1 take-off gloves-and-gown | accepted
        +610 | gus + ben | take-off straps                | accepted
        +620 | gus       | take-off lay-down seen soil    | accepted
        +630 | gus       | take-off hands                 | accepted, stage used
        """,
    )
    for item in ("HMR-1", MASK, *FILTERS):
        assert (masked.item(item).stage, masked.item(item).contamination_class) == ("used", "soiled")
    masked.assert_kept_whole("HMR-1")


def test_nobody_wears_it_without_the_seal_check(masked: Floor) -> None:
    """Both halves of it: 29 CFR 1910.134 Appendix B-1, positive and negative pressure (from memory)."""
    play(masked, "\n".join(PUT_ON.strip().splitlines()[:-1]))
    play(masked, "+0 | gus | HMR-1 put-on seal-check without pressed-out | refused P01, key check-missing")
    worn = masked.item("HMR-1").wear
    assert worn is not None
    assert worn.on_us is None
    play(masked, "+9 | gus | HMR-1 put-on seal-check no drawn-in | held U03, found MASK-LEAK")
    assert masked.item("HMR-1").held


def test_taking_it_off_unwatched_is_told_and_never_refused(masked: Floor) -> None:
    play(masked, PUT_ON)
    play(masked, "+60 | gus | HMR-1 take-off gloves-and-gown | accepted, warns U08")


def test_it_knows_no_battery_and_every_signal_asks_to_leave(masked: Floor) -> None:
    """Source: 29 CFR 1910.134(g)(2)(ii), leaving at breakthrough, changed resistance or a leak (from memory)."""
    wearing = wearing_of(masked)
    assert {one.signal for one in wearing.signals} >= {"breathing-harder", "smell-or-taste", "damage-in-use", "damp"}
    assert all("Leave the contaminated area" in one.asks[0] for one in wearing.signals)
    assert wearing.swaps == ()
    assert "battery" not in str(wearing)
