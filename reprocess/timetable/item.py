"""The reminders of an item: its dwell, its life (T12), its holds (R09), its time in store (T13, Q03)."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Limit
from reprocess.record.standing import Standing, Wear
from reprocess.rules import life
from reprocess.rules.inspection import inspection_day
from reprocess.terms import SECOND_US, Stage, StreamKind, as_datetime, stream
from reprocess.timetable.battery import of_charge
from reprocess.timetable.custody import of_custody
from reprocess.timetable.days import at_hour, end_of_day, local_date
from reprocess.timetable.due import AHEAD, GRAVE, NOW, SOON, Due, Words, key_of
from reprocess.timetable.dwell import of_dwell
from reprocess.timetable.hold import of_holds
from reprocess.timetable.label import of_label
from reprocess.timetable.resting import of_rest

COUNTED: Final = frozenset({"cycles", "charge-cycles", "hours"})
"""Limits without a date: their reminder comes when the share is reached."""
INSPECT_AHEAD: Final = (7, 3)
"""Days before the day of a monthly inspection on which it is brought to mind (R04)."""


def for_item(item: Standing, workflow: Workflow, zone: str, months: int | None = None) -> tuple[Due, ...]:
    """Returns every reminder that an item's standing calls for.

    Args:
        item: where the item stands.
        workflow: the version its cycle began under.
        zone: the time zone of its site, for the rules about days.
        months: how often the place where it lies asks for an inspection (Q03, Q06), or None.
    """
    if not item.known or item.stage in (Stage.CONDEMNED, Stage.LOST):
        return ()
    found: list[Due] = []
    if item.dwell is not None:
        found += of_dwell(item, item.dwell, workflow)
    if workflow.limits:
        found += _of_life(item, workflow)
    if workflow.recurring:
        found += _of_recurring(item, workflow)
    if item.wear is not None:
        found += _of_signals(item, item.wear)
    if item.holds:
        found += of_holds(item)
    found += [*of_rest(item), *of_label(item)]
    if item.custody is not None:
        found += of_custody(item, item.custody)
    elif item.stage == Stage.READY:
        found += _in_store(item, workflow, zone, months)
    return tuple(found)


def _due(item: Standing, rule: str, cause: tuple[str, str], due_us: int, severity: int, words: Words) -> Due:
    subject = stream(StreamKind.ITEM, item.item)
    held: Words = {"site": item.site, "item": item.item}
    return Due(key_of(rule, subject, *cause), subject, rule, due_us, severity, held | words)


def _of_life(item: Standing, workflow: Workflow) -> list[Due]:
    """Returns when each limit is used up to its warning share, by the arithmetic of `rules.life` itself.

    A limit in time rings within a second of that; a longer limit in the file is another reminder.
    """
    found = []
    for one in life.wear(workflow, item, item.in_service_us):
        limit = one.limit
        if limit.limit not in COUNTED:
            left_s = -(-one.most * limit.warn_percent // 100) - one.seen
            found.append(_life_near(item, limit, item.in_service_us + left_s * SECOND_US))
        elif one.near:
            found.append(_life_near(item, limit, _counted_us(limit, item)))
    return found


def _life_near(item: Standing, limit: Limit, due_us: int) -> Due:
    most = limit.most if limit.most is not None else as_datetime(item.sealed_expiry_us or 0).date().isoformat()
    words: Words = {"say": "life-near", "limit": limit.limit, "percent": limit.warn_percent}
    return _due(item, "T12", (f"{limit.limit}-{most}", "near"), due_us, AHEAD, words)


def _counted_us(limit: Limit, item: Standing) -> int:
    """Returns since when a counted limit is near, as far as the standing knows: this cycle, or the latest entry."""
    if limit.limit == "cycles" or item.change is None:
        return item.contaminated_us
    return item.change.moment.wall_us


def _of_recurring(item: Standing, workflow: Workflow) -> list[Due]:
    """Returns when the pass of each recurring step is used up to its warning share; of charge cycles once it is."""
    found = []
    for one in life.recurring(workflow, item, item.in_service_us):
        latest = item.passes.get(one.block.step)
        cause = f"{one.block.step}-{latest.number if latest is not None else 0}"
        words: Words = {"say": "recurring-near", "step": one.block.step}
        if one.by == "days" and not one.failed:
            left_s = -(-one.most * one.block.warn_percent // 100) - one.seen
            due_us = item.in_service_us + left_s * SECOND_US
            found.append(_due(item, one.block.rule, (cause, "near"), due_us, AHEAD, words))
        elif one.by == "charge-cycles" and one.near and item.change is not None:
            due_us = item.change.moment.wall_us
            found.append(_due(item, one.block.rule, (cause, "worn"), due_us, AHEAD, words))
    return found


def _of_signals(item: Standing, wear: Wear) -> list[Due]:
    """Returns when the time is over that each signal of a wearer left them, unless they began to take it off (B07)."""
    if wear.off_us is not None:
        return []
    return [
        _due(
            item,
            "B07",
            (f"{signal}-{number}", "over"),
            at_us + left_s * SECOND_US,
            NOW,
            {"say": "signal-over", "signal": signal},
        )
        for signal, number, at_us, left_s in wear.signals
        if left_s is not None
    ]


def _in_store(item: Standing, workflow: Workflow, zone: str, months: int | None) -> list[Due]:
    found = []
    if item.ready_until_us is not None:
        day = local_date(zone, item.ready_until_us).isoformat()
        found.append(_due(item, "T13", (day, "over"), item.ready_until_us, GRAVE, {"say": "shelf-over"}))
    asked = [months] if months is not None else []
    if workflow.reinspection is not None:
        asked.append(workflow.reinspection.every_months)
    if asked:
        found += _of_inspection(item, inspection_day(item, min(asked), zone), zone)
    found += of_charge(item, workflow)
    return found


def _of_inspection(item: Standing, day: date, zone: str) -> list[Due]:
    cause, over_us = day.isoformat(), end_of_day(zone, day)
    words: Words = {"day": cause, "at_us": over_us}
    ahead = [
        _due(
            item,
            "Q03",
            (cause, f"-{days}"),
            at_hour(zone, day - timedelta(days=days)),
            AHEAD,
            words | {"say": "inspection-ahead"},
        )
        for days in INSPECT_AHEAD
    ]
    today = _due(item, "Q03", (cause, "0"), at_hour(zone, day), SOON, words | {"say": "inspection-today"})
    over = _due(item, "Q03", (cause, "over"), over_us, GRAVE, words | {"say": "inspection-over"})
    return [*ahead, today, over]
