"""The reminders of an item beside its dwell: life, holds, time in store and the monthly look."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Limit, Recurring
from reprocess.record.recalls import Recall
from reprocess.record.standing import Change, Hold, Pass, Standing
from reprocess.rules.life import ends_us, wear
from reprocess.terms import DAY_S, SECOND_US, Stage
from reprocess.timetable import Due, cause_of, for_item, for_recall
from tests.timetable.moments import at, reading

LONDON, HALIFAX = "Europe/London", "America/Halifax"
IN_SERVICE_US = at("2025-06-01T00:00+01:00")
NOON_US = at("2026-03-05T12:00+00:00")


def item(**changed: Any) -> Standing:
    standing = Standing(
        item="RSP-0001",
        item_kind="respirator",
        site="LMG",
        number=9,
        stage=Stage.CLEANED,
        since_us=NOON_US,
        contaminated_us=NOON_US,
        in_service_us=IN_SERVICE_US,
        change=Change(9, "item-worked", None, "P-01", "LMG-C1", reading(NOON_US + SECOND_US, 1)),
    )
    return replace(standing, **changed)


def limited(workflow: Workflow, **limit: Any) -> Workflow:
    one = Limit.model_validate({"example": True, **limit})
    return workflow.model_copy(update={"limits": (one,)})


def of_rule(rule: str, standing: Standing, workflow: Workflow, zone: str = LONDON) -> list[Due]:
    return [due for due in for_item(standing, workflow, zone) if due.rule == rule]


@pytest.mark.parametrize(
    ("limit", "changed"),
    [
        ({"limit": "age-days", "most": 1825}, {}),
        ({"limit": "age-days", "most": 7, "warn_percent": 33}, {}),
        ({"limit": "opened-days", "most": 365}, {"opened_us": NOON_US + 17}),
        ({"limit": "sealed-expiry"}, {"sealed_expiry_us": NOON_US + 123_456_789}),
    ],
)
def test_a_limit_in_time_rings_within_a_second_of_being_near(
    respirator: Workflow, limit: dict[str, Any], changed: dict[str, Any]
) -> None:
    workflow, standing = limited(respirator, **limit), item(**changed)
    (due,) = of_rule("T12", standing, workflow)
    assert [one.near for one in wear(workflow, standing, due.due_us)] == [True]
    assert [one.near for one in wear(workflow, standing, due.due_us - 2 * SECOND_US)] == [False]


@pytest.mark.parametrize(
    ("limit", "changed"),
    [
        ({"limit": "opened-days", "most": 365}, {}),
        ({"limit": "sealed-expiry"}, {}),
        ({"limit": "sealed-expiry"}, {"sealed_expiry_us": NOON_US, "opened_us": NOON_US - 1}),
    ],
)
def test_a_limit_that_does_not_run_rings_never(
    respirator: Workflow, limit: dict[str, Any], changed: dict[str, Any]
) -> None:
    assert of_rule("T12", item(**changed), limited(respirator, **limit)) == []


@pytest.mark.parametrize(
    ("limit", "field", "below", "reached"),
    [
        ("cycles", "cycles_done", 89, 90),
        ("charge-cycles", "charge_cycles", 89, 90),
        ("hours", "used_minutes", 90 * 60 - 1, 90 * 60),
    ],
)
def test_a_counted_limit_rings_when_it_is_near(
    respirator: Workflow, limit: str, field: str, below: int, reached: int
) -> None:
    workflow = limited(respirator, limit=limit, most=100)
    assert of_rule("T12", item(**{field: below}), workflow) == []
    (due,) = of_rule("T12", item(**{field: reached}), workflow)
    assert due.due_us == (NOON_US if limit == "cycles" else NOON_US + SECOND_US)
    assert of_rule("T12", item(**{field: reached + 1}), workflow)[0].key == due.key


def test_a_longer_limit_in_the_file_reminds_anew(respirator: Workflow) -> None:
    short = of_rule("T12", item(), limited(respirator, limit="age-days", most=100))
    long = of_rule("T12", item(), limited(respirator, limit="age-days", most=200))
    assert short[0].key != long[0].key


def held(number: int) -> dict[str, Hold]:
    hold = Hold(
        hold=f"defect-{number}",
        sort="defect",
        rule="H01",
        cause="crack",
        owner="clinical-engineer",
        placed_by="P-01",
        placed_us=NOON_US,
        number=number,
        lift_roles=("supervisor",),
        lift_two_people=False,
        lift_requires="a repair",
    )
    return {hold.hold: hold}


def test_a_hold_is_brought_to_mind_after_three_seven_and_fourteen_days(respirator: Workflow) -> None:
    found = of_rule("R09", item(holds=held(9)), respirator)
    told = [((due.due_us - NOON_US) // (DAY_S * SECOND_US), due.words["to"]) for due in found]
    assert told == [(3, "clinical-engineer"), (7, "supervisor"), (14, "quality")]
    assert {cause_of(due.key) for due in found} == {"R09/item:RSP-0001/defect-9"}


def test_an_old_hold_is_brought_to_mind_every_week_for_a_quarter(respirator: Workflow) -> None:
    """H11"""
    found = of_rule("H11", item(holds=held(9)), respirator)
    days = [(due.due_us - NOON_US) // (DAY_S * SECOND_US) for due in found]
    assert days == [21, 28, 35, 42, 49, 56, 63, 70, 77, 84, 91, 98]
    assert {due.words["to"] for due in found} == {"quality"}


def test_what_failed_is_put_in_quarantine_within_a_quarter_of_an_hour(respirator: Workflow) -> None:
    """H01: until somebody scans the place; other holds are not asked for one."""
    (asked,) = of_rule("H01", item(holds=held(9)), respirator)
    assert (asked.due_us - NOON_US, asked.words["say"]) == (15 * 60 * SECOND_US, "quarantine")
    ((name, one),) = held(9).items()
    assert of_rule("H01", item(holds={name: replace(one, place="Q-1")}), respirator) == []
    assert of_rule("H01", item(holds={name: replace(one, rule="H03")}), respirator) == []


def test_an_open_recall_is_looked_at_after_an_hour_a_day_and_a_week() -> None:
    """H09: until it is closed."""
    committed = Recall("R-1", owner="hana", committed_us=NOON_US, number=2)
    found = for_recall(committed, "LMG")
    assert [(due.due_us - NOON_US) // SECOND_US for due in found] == [3600, 86_400, 604_800]
    assert {(due.rule, due.words["to"]) for due in found} == {("H09", "hana")}
    assert for_recall(replace(committed, closed_us=NOON_US), "LMG") == ()
    assert for_recall(replace(committed, committed_us=None), "LMG") == ()


def test_an_item_in_repair_still_has_its_holds_and_its_life(blower: Workflow) -> None:
    found = for_item(item(stage=Stage.IN_REPAIR, holds=held(9)), blower, LONDON)
    assert {due.rule for due in found} >= {"R09", "H01", "H11", "T12"}


@pytest.mark.parametrize("stage", [Stage.CONDEMNED, Stage.LOST])
def test_what_is_gone_reminds_of_nothing(blower: Workflow, stage: Stage) -> None:
    assert for_item(item(stage=stage, holds=held(9)), blower, LONDON) == ()


def test_what_is_not_on_record_reminds_of_nothing(blower: Workflow) -> None:
    assert for_item(Standing(item="BLW-9"), blower, LONDON) == ()


def test_ready_rings_when_it_was_ready_too_long(respirator: Workflow) -> None:
    until_us = NOON_US + 30 * DAY_S * SECOND_US
    ready = item(stage=Stage.READY, ready_until_us=until_us)
    (due,) = of_rule("T13", ready, respirator)
    assert (due.due_us, due.key) == (until_us, "T13/item:RSP-0001/2026-04-04/over")
    assert of_rule("T13", replace(ready, stage=Stage.INSPECTED), respirator) == []


# 29 CFR 1910.134(h)(3)(i)(B): respirators kept for emergencies are inspected at least monthly (V01-14). The anchored
# day is common practice, no source.
@pytest.mark.parametrize(
    ("zone", "ready", "looked", "anchor", "ends"),
    [
        (LONDON, "2026-01-31T09:00+00:00", None, None, "2026-03-01T00:00+00:00"),
        (LONDON, "2026-01-31T09:00+00:00", "2026-02-28T09:00+00:00", 31, "2026-04-01T00:00+01:00"),
        (LONDON, "2026-01-31T09:00+00:00", "2026-03-31T09:00+01:00", 31, "2026-05-01T00:00+01:00"),
        (LONDON, "2028-01-31T09:00+00:00", None, None, "2028-03-01T00:00+00:00"),
        # Due on the night on which the clocks change: the day is an hour shorter or longer.
        (LONDON, "2026-02-28T09:00+00:00", "2026-02-28T10:00+00:00", 29, "2026-03-30T00:00+01:00"),
        (LONDON, "2026-09-25T23:30+00:00", None, None, "2026-10-27T00:00+00:00"),
        (LONDON, "2026-09-24T23:30+00:00", None, None, "2026-10-26T00:00+00:00"),
        (HALIFAX, "2026-02-08T09:00-04:00", None, None, "2026-03-09T00:00-03:00"),
        (HALIFAX, "2026-10-01T09:00-03:00", None, None, "2026-11-02T00:00-04:00"),
        # Half past midnight in Halifax is still the evening before, or the next day already, nowhere else.
        (HALIFAX, "2026-06-16T03:30+00:00", None, None, "2026-07-17T00:00-03:00"),
        (HALIFAX, "2026-06-16T02:30+00:00", None, None, "2026-07-16T00:00-03:00"),
        # An inspection of an earlier cycle counts no more, nor does its anchor.
        (LONDON, "2026-03-05T12:00+00:00", "2026-02-28T09:00+00:00", 31, "2026-04-06T00:00+01:00"),
    ],
)
def test_the_monthly_look_is_due_at_the_end_of_the_anchored_day(
    respirator: Workflow, zone: str, ready: str, looked: str | None, anchor: int | None, ends: str
) -> None:
    looked_us = at(looked) if looked is not None else None
    standing = item(stage=Stage.READY, since_us=at(ready), inspected_us=looked_us, anchor_day=anchor)
    over = of_rule("Q03", standing, respirator, zone)[-1]
    assert over.due_us == at(ends)
    assert over.words["say"] == "inspection-over"


def test_the_monthly_look_is_brought_to_mind_seven_and_three_days_before_and_on_its_day(respirator: Workflow) -> None:
    standing = item(stage=Stage.READY, since_us=at("2026-03-02T15:00+00:00"))
    found = of_rule("Q03", standing, respirator)
    assert [(due.key.rpartition("/")[2], due.due_us) for due in found] == [
        ("-7", at("2026-03-26T07:00+00:00")),
        ("-3", at("2026-03-30T07:00+01:00")),
        ("0", at("2026-04-02T07:00+01:00")),
        ("over", at("2026-04-03T00:00+01:00")),
    ]
    assert {cause_of(due.key) for due in found} == {"Q03/item:RSP-0001/2026-04-02"}


def test_a_part_that_is_not_looked_at_monthly_is_not_reminded_of_it(blower: Workflow) -> None:
    assert of_rule("Q03", item(stage=Stage.READY), blower) == []


def test_no_two_reminders_of_an_item_share_a_key(respirator: Workflow) -> None:
    standing = item(stage=Stage.READY, ready_until_us=NOON_US, holds=held(9))
    keys = [due.key for due in for_item(standing, limited(respirator, limit="age-days", most=9), LONDON)]
    assert len(keys) == len(set(keys)) == 22


def test_a_recurring_step_rings_when_its_pass_is_used_up_to_its_share(respirator: Workflow) -> None:
    """B05: 90 percent of a hundred days, or of fifty charges; a new pass is another reminder."""
    block = {"step": "functional-test", "every_days": 100, "every_charge_cycles": 50, "rule": "B05", "example": True}
    workflow = respirator.model_copy(update={"recurring": (Recurring.model_validate(block),)})
    (never,) = of_rule("B05", item(), workflow)
    assert never.due_us == IN_SERVICE_US + 90 * DAY_S * SECOND_US
    passed = item(passes={"functional-test": Pass(5, NOON_US, 10)}, charge_cycles=54)
    (dated,) = of_rule("B05", passed, workflow)
    assert dated.due_us == NOON_US + 90 * DAY_S * SECOND_US
    assert cause_of(dated.key) != cause_of(never.key)
    worn = of_rule("B05", replace(passed, charge_cycles=55), workflow)
    assert [due.key.rpartition("/")[2] for due in worn] == ["near", "worn"]
    assert NOON_US + 100 * DAY_S * SECOND_US in ends_us(workflow, passed)
    failed = replace(passed, passes={"functional-test": Pass(6, None, 10)})
    assert of_rule("B05", failed, workflow) == []
