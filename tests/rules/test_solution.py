"""Until which instant a bath may be used, and what a contact in it survives (L01, L03, L05, L06, L09, M05)."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from reprocess.definitions.label import Agent, Claim, Keeping, Strength
from reprocess.record.moment import Moment
from reprocess.record.places import Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import OpenDwell, Standing
from reprocess.rules import contact, solution
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import SECOND_US
from tests.rules.test_contact import OPENED, SOAK

NOW_US = 1_000_000 * SECOND_US
DAY_US = 86_400 * SECOND_US
ROW = Claim(claim="high-level", method="immersion", contact_s=60, example=True)
PLAIN = Agent(agent="bath", title="Bath", active_ingredients="none", form="bath", follows="none", claims=(ROW,))
TESTED = PLAIN.model_copy(update={"strength": Strength(least=Decimal(50), unit="ppm", test_every="day", example=True)})
FINISHES = TESTED.model_copy(update={"expiry_mid_soak": "finish"})
BATH = Solution(
    "B-1",
    agent="bath",
    lot="L",
    lot_expiry_us=NOW_US + 1,
    expires_us=NOW_US + 1,
    passed_us=NOW_US,
    made_feed=1,
    number=1,
)
SOAKING: OpenDwell = replace(OPENED, feed=2)


def at_the_bench(*, local_day: int = 5, last_day: int | None = 5) -> Scene:
    bench = Bench(
        Moment(NOW_US, 0, 0, "a", "n"), Site("LMG"), Station("S"), None, None, local_day=local_day, last_day=last_day
    )
    return Scene(bench=bench, item=Standing("X"))


@pytest.mark.parametrize(
    ("bath", "rules"),
    [
        (BATH, []),
        (replace(BATH, lot_expiry_us=NOW_US), ["L01"]),
        (replace(BATH, expires_us=NOW_US), ["L05"]),
        (replace(BATH, expires_us=NOW_US, form="container"), ["L09"]),
        (replace(BATH, doubted=True), ["L08"]),
        (replace(BATH, passed_us=None), ["L03"]),
        (replace(BATH, ended="dumped"), ["L06"]),
        (replace(BATH, ended="failed", failed_us=NOW_US), ["L07"]),
        (
            replace(BATH, lot_expiry_us=NOW_US, expires_us=NOW_US, doubted=True, passed_us=None),
            ["L08", "L01", "L05", "L03"],
        ),
    ],
)
def test_a_bath_may_be_used_before_its_end_and_not_at_it(bath: Solution, rules: list[str]) -> None:
    assert [one.rule for one in solution.usable(bath, TESTED, at_the_bench())] == rules


def test_a_pass_counts_on_its_local_day() -> None:
    """L03"""
    assert solution.tested(BATH, TESTED, at_the_bench(local_day=5, last_day=5)) == []
    assert [one.key for one in solution.tested(BATH, TESTED, at_the_bench(local_day=6, last_day=5))] == ["test-today"]


def test_a_bath_for_one_use_is_used_up_by_the_first() -> None:
    """L05"""
    once = PLAIN.model_copy(update={"keeping": Keeping(single_use=True)})
    assert solution.usable(BATH, once, at_the_bench()) == []
    assert [one.key for one in solution.usable(replace(BATH, touched=1), once, at_the_bench())] == ["single-use"]


@pytest.mark.parametrize(
    ("agent", "bath", "key"),
    [
        (FINISHES, BATH, None),
        (FINISHES, replace(BATH, expires_us=NOW_US), "expired-mid-soak"),
        (TESTED, replace(BATH, expires_us=NOW_US), "void-mid-soak"),
        # The lot itself ran out.
        (FINISHES, replace(BATH, expires_us=NOW_US, lot_expiry_us=NOW_US), "void-mid-soak"),
        (FINISHES, replace(BATH, lot_expiry_us=NOW_US), "void-mid-soak"),
        # The pass is a day old, or there was none; a label that asks for no test is content without.
        (FINISHES, replace(BATH, expires_us=NOW_US, passed_us=NOW_US - DAY_US + 1), "expired-mid-soak"),
        (FINISHES, replace(BATH, expires_us=NOW_US, passed_us=NOW_US - DAY_US), "void-mid-soak"),
        (FINISHES, replace(BATH, expires_us=NOW_US, passed_us=None), "void-mid-soak"),
        (
            PLAIN.model_copy(update={"expiry_mid_soak": "finish"}),
            replace(BATH, expires_us=NOW_US, passed_us=None),
            "expired-mid-soak",
        ),
        # Ended, or made anew under the same id, after the contact began.
        (FINISHES, replace(BATH, ended="dumped"), "solution-ended"),
        (FINISHES, replace(BATH, made_feed=3), "solution-ended"),
    ],
)
def test_what_a_contact_survives(agent: Agent, bath: Solution, key: str | None) -> None:
    """L05, L06"""
    seen = solution.meanwhile(bath, agent, SOAKING, NOW_US)
    assert (seen.key if seen is not None else None) == key


@pytest.mark.parametrize(("read_after_s", "valid"), [(74, False), (75, True), (90, True), (91, False), (None, False)])
def test_a_strip_is_read_in_its_window(read_after_s: int | None, *, valid: bool) -> None:
    """M05: both ends of the window count; an unknown time does not."""
    window = Strength(
        least=Decimal(50), unit="ppm", test_every="day", read_after_least_s=75, read_after_most_s=90, example=True
    )
    agent = PLAIN.model_copy(update={"strength": window})
    seen = solution.judge_test(agent, strip_expired=False, reading="50", passed=None, read_after_s=read_after_s)
    assert isinstance(seen, solution.Tested)
    assert (seen.valid, seen.passed) == (valid, True)


@pytest.mark.parametrize(("reading", "passed"), [("49.9", False), ("50", True), ("50.1", True)])
def test_the_least_concentration_is_enough(reading: str, *, passed: bool) -> None:
    """M05"""
    seen = solution.judge_test(TESTED, strip_expired=False, reading=reading, passed=None, read_after_s=None)
    assert isinstance(seen, solution.Tested)
    assert (seen.valid, seen.passed, seen.limit, seen.unit) == (True, passed, "50", "ppm")


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("0", None),
        ("-0.1", "implausible"),
        ("43", None),
        ("43.1", "too-warm"),
        ("100", "too-warm"),
        ("100.1", "implausible"),
    ],
)
def test_a_temperature_is_believed_from_ice_to_steam(text: str, key: str | None) -> None:
    """M08, T07: what is above the ceiling of the item is believed and refused."""
    _, told = contact.temperature(text, SOAK.model_copy(update={"temp_most_c": Decimal(43)}))
    assert [one.key for one in told] == ([key] if key is not None else [])
