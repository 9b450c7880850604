"""How long a part lives: every limit at its edge, and when a ready part must not be used any more (T12, T13)."""

from __future__ import annotations

import pytest

from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Limit
from reprocess.record.standing import Hold, Standing
from reprocess.rules import life
from reprocess.terms import DAY_S, SECOND_US, Stage
from tests.engine.floor import files

DAY_US = DAY_S * SECOND_US
NOW_US = 1_000 * DAY_US
BLOWER = next(file.holds for file in files() if isinstance(file.holds, Workflow) and file.holds.workflow == "blower")


def limited(*limits: Limit) -> Workflow:
    return BLOWER.model_copy(update={"limits": limits})


def limit(name: str, most: int | None) -> Limit:
    return Limit.model_validate({"limit": name, "most": most, "warn_percent": 90, "example": True})


@pytest.mark.parametrize(
    ("line", "item", "over", "near"),
    [
        (limit("cycles", 10), Standing("X", cycles_done=10), True, False),
        (limit("cycles", 10), Standing("X", cycles_done=9), False, True),
        (limit("cycles", 10), Standing("X", cycles_done=8), False, False),
        (limit("cycles", 10), Standing("X", cycles_done=10, stage=Stage.READY), False, True),
        (limit("charge-cycles", 10), Standing("X", charge_cycles=10), True, False),
        (limit("hours", 2), Standing("X", used_minutes=120), True, False),
        (limit("hours", 2), Standing("X", used_minutes=119), False, True),
        (limit("age-days", 100), Standing("X", in_service_us=NOW_US - 100 * DAY_US), True, False),
        (limit("age-days", 100), Standing("X", in_service_us=NOW_US - 90 * DAY_US), False, True),
        (limit("age-days", 100), Standing("X", in_service_us=NOW_US - 90 * DAY_US + SECOND_US), False, False),
        (limit("opened-days", 5), Standing("X"), False, False),
        (limit("opened-days", 5), Standing("X", opened_us=NOW_US - 5 * DAY_US), True, False),
        (limit("sealed-expiry", None), Standing("X"), False, False),
        (limit("sealed-expiry", None), Standing("X", sealed_expiry_us=NOW_US), True, False),
        (limit("sealed-expiry", None), Standing("X", sealed_expiry_us=NOW_US + DAY_US), False, True),
        (limit("sealed-expiry", None), Standing("X", sealed_expiry_us=NOW_US, opened_us=NOW_US - 1), False, False),
        (limit("sealed-expiry", None), Standing("X", sealed_expiry_us=NOW_US, opened_us=NOW_US), True, False),
    ],
)
def test_a_limit_is_told_at_its_share_and_over_when_it_is_reached(
    line: Limit, item: Standing, *, over: bool, near: bool
) -> None:
    """T12"""
    reasons, warnings = life.in_life(limited(line), item, NOW_US)
    assert ([one.rule for one in reasons], [one.rule for one in warnings]) == (["T12"] * over, ["T12"] * near)


def test_the_dates_at_which_a_part_ends() -> None:
    workflow = limited(limit("age-days", 5), limit("opened-days", 7), limit("sealed-expiry", None), limit("cycles", 3))
    assert life.ends_us(workflow, Standing("X", in_service_us=1)) == [1 + 5 * DAY_US]
    sealed = Standing("X", in_service_us=1, sealed_expiry_us=9)
    assert life.ends_us(workflow, sealed) == [1 + 5 * DAY_US, 9]
    opened = Standing("X", in_service_us=1, sealed_expiry_us=9, opened_us=2)
    assert life.ends_us(workflow, opened) == [1 + 5 * DAY_US, 2 + 7 * DAY_US]


def test_a_ready_part_may_be_unusable_all_the_same() -> None:
    """G02, T12, T13: judged at every look, because nobody scans it when it expires."""
    hold = Hold("defect-1", "defect", "H01", "cracked", "cora", None, 0, 1, (), lift_two_people=True, lift_requires="")
    item = Standing("X", stage=Stage.READY, in_service_us=NOW_US - 9 * DAY_US, ready_until_us=NOW_US)
    held = Standing("X", stage=Stage.READY, holds={"defect-1": hold}, in_service_us=NOW_US)
    workflow = limited(limit("age-days", 9))
    assert [one.rule for one in life.unusable(workflow, item, NOW_US)] == ["T12", "T13"]
    assert [one.rule for one in life.unusable(workflow, item, NOW_US - SECOND_US)] == []
    assert [one.rule for one in life.unusable(workflow, held, NOW_US)] == ["G02"]
