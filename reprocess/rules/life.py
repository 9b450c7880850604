"""How long a part lives and how long ready stays ready: T12, T13, G07."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Limit, Recurring
from reprocess.record.standing import Standing
from reprocess.rules.answer import Reason
from reprocess.terms import DAY_S, SECOND_US, Stage

SOON_S = 7 * DAY_S
"""A part that runs out within this time is told at release (G07, site parameter with this default)."""


@dataclass(frozen=True, slots=True)
class Wear:
    """Is how much of a limit is used up; `most` and `seen` share the limit's unit (times in seconds)."""

    limit: Limit
    seen: int
    most: int

    @property
    def reached(self) -> bool:
        """Tells whether the limit is reached; a limit that is reached is no longer ready."""
        return self.seen >= self.most

    @property
    def near(self) -> bool:
        """Tells whether the warning share is reached."""
        return self.seen * 100 >= self.most * self.limit.warn_percent


def wear(workflow: Workflow, item: Standing, now_us: int) -> list[Wear]:
    """Returns how far each limit of the item is used up, in the workflow's order; undated limits are left out."""
    found = []
    for limit in workflow.limits:
        seen = _seen(limit, item, now_us)
        if seen is not None:
            found.append(Wear(limit, *seen))
    return found


def _seen(limit: Limit, item: Standing, now_us: int) -> tuple[int, int] | None:
    most = limit.most or 0
    match limit.limit:
        case "cycles":
            behind = item.cycles_done - (1 if item.stage == Stage.READY else 0)
            return behind, most
        case "charge-cycles":
            return item.charge_cycles, most
        case "hours":
            return item.used_minutes * 60, most * 3600
        case "age-days":
            return (now_us - item.in_service_us) // SECOND_US, most * DAY_S
        case "opened-days" if item.opened_us is not None:
            return (now_us - item.opened_us) // SECOND_US, most * DAY_S
        case "sealed-expiry" if item.sealed_expiry_us is not None and not _opened_in_date(item, item.sealed_expiry_us):
            # What was out of date when it came had its last second before it expired.
            began_us = min(item.in_service_us, item.sealed_expiry_us - SECOND_US)
            return (now_us - began_us) // SECOND_US, (item.sealed_expiry_us - began_us) // SECOND_US
        case _:
            return None


def _opened_in_date(item: Standing, expiry_us: int) -> bool:
    """Tells whether the package was opened before it expired; opening it later does not give the part a new life."""
    return item.opened_us is not None and item.opened_us < expiry_us


@dataclass(frozen=True, slots=True)
class Recurs:
    """Is how far the latest pass of a recurring step is used up, by days (in seconds) or by charge cycles."""

    block: Recurring
    by: str
    seen: int
    most: int
    failed: bool = False

    @property
    def due(self) -> bool:
        """Tells whether the step is asked for; a pass from next week is none."""
        return self.failed or self.seen >= self.most or (self.by == "days" and self.seen < -SOON_S)

    @property
    def grace_s(self) -> int:
        """Returns for how long after its days the step is only asked for (B05)."""
        return (self.block.grace_days or 0) * DAY_S if self.by == "days" else 0

    @property
    def over(self) -> bool:
        """Tells whether the item may not be ready without it: due, and no grace is left."""
        return self.due and (self.failed or not 0 <= self.seen < self.most + self.grace_s)

    @property
    def near(self) -> bool:
        """Tells whether the warning share is reached."""
        return self.seen * 100 >= self.most * self.block.warn_percent


def recurring(workflow: Workflow, item: Standing, now_us: int) -> list[Recurs]:
    """Returns how far each recurring step's pass is used up, in the workflow's order, days before charge cycles."""
    found = []
    for one in workflow.recurring:
        latest = item.passes.get(one.step)
        failed = latest is not None and latest.at_us is None
        if item.repaired is not None and (latest is None or latest.number < item.repaired):
            failed = True  # whatever was tested before a repair is tested again after it
        if one.every_days is not None:
            since_us = item.in_service_us if latest is None or latest.at_us is None else latest.at_us
            seen_s = (now_us - since_us) // SECOND_US
            found.append(Recurs(one, "days", seen_s, one.every_days * DAY_S, failed))
        if one.every_charge_cycles is not None:
            seen = item.charge_cycles - (0 if latest is None else latest.charge_cycles)
            found.append(Recurs(one, "charge-cycles", seen, one.every_charge_cycles, failed))
    return found


def due_steps(workflow: Workflow, item: Standing, now_us: int) -> list[str]:
    """Returns the recurring steps that must pass before the item may be ready, each once."""
    return list(dict.fromkeys(one.block.step for one in recurring(workflow, item, now_us) if one.due))


def ends_us(workflow: Workflow, item: Standing) -> list[int]:
    """Returns the instants at which the dated limits of an item are reached; counters have none."""
    ends = []
    for limit in workflow.limits:
        most_us = (limit.most or 0) * DAY_S * SECOND_US
        match limit.limit:
            case "age-days":
                ends.append(item.in_service_us + most_us)
            case "opened-days" if item.opened_us is not None:
                ends.append(item.opened_us + most_us)
            case "sealed-expiry" if item.sealed_expiry_us is not None and not _opened_in_date(
                item, item.sealed_expiry_us
            ):
                ends.append(item.sealed_expiry_us)
            case _:
                pass
    ends += [
        item.in_service_us + (one.most + one.grace_s - one.seen) * SECOND_US
        for one in recurring(workflow, item, item.in_service_us)
        if one.by == "days" and not one.failed
    ]
    return ends


def unusable(workflow: Workflow, item: Standing, now_us: int) -> list[Reason]:
    """Returns why an item that is ready must not be used now: holds, limits, shelf life; judged at every look."""
    reasons = [Reason("G02", "held-here", {"hold": one.hold, "cause": one.cause}) for one in item.holds.values()]
    reasons += in_life(workflow, item, now_us)[0]
    if item.wear is not None and item.wear.worn:
        reasons.append(Reason("U06", "worn-already", {"item": item.item}))
    if item.ready_until_us is not None and item.ready_until_us <= now_us:
        reasons.append(Reason("T13", "shelf-over", {"item": item.item, "at_us": item.ready_until_us}))
    return reasons


def in_life(workflow: Workflow, item: Standing, now_us: int) -> tuple[list[Reason], list[Reason]]:
    """Returns (refusals, warnings) of an item's limits (T12, G07)."""
    reasons, warnings = [], []
    for one in wear(workflow, item, now_us):
        facts: dict[str, str | int | list[str]] = {
            "item": item.item,
            "limit": one.limit.limit,
            "seen": one.seen,
            "most": one.most,
        }
        if one.reached:
            reasons.append(Reason("T12", "life-over", facts, role="programme-administrator"))
        elif one.near:
            warnings.append(Reason("T12", "life-near", facts))
    known = {one.step for one in workflow.recurring}
    for step, latest in item.passes.items():
        if latest.at_us is None and step not in known:  # a new version of the file does not mend what failed
            reasons.append(Reason("M09", "recurring-due", {"item": item.item, "step": step, "by": "days"}))
    again = recurring(workflow, item, now_us)
    due = {one.block.step: Reason(one.block.rule, "recurring-due", _recurs(item, one)) for one in again if one.over}
    near = {one.block.step: _near(item, one) for one in again if one.near}
    warnings += [told for step, told in near.items() if step not in due]
    return [*reasons, *due.values()], warnings


def _near(item: Standing, one: Recurs) -> Reason:
    """Returns what is told of a step that is soon due, or due with days of grace left (B05)."""
    if not one.due:
        return Reason(one.block.rule, "recurring-near", _recurs(item, one))
    left = (one.most + one.grace_s - one.seen) // DAY_S
    return Reason(one.block.rule, "recurring-grace", {**_recurs(item, one), "left": left})


def _recurs(item: Standing, one: Recurs) -> dict[str, str | int | list[str]]:
    return {"item": item.item, "step": one.block.step, "by": one.by, "seen": one.seen, "most": one.most}
