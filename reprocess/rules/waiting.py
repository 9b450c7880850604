"""Time between steps: T08 (rinse soon after contact), T11 (late start of cleaning), D05 (late entries)."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.times import Delay
from reprocess.record.moment import elapsed
from reprocess.record.standing import Standing
from reprocess.rules import override
from reprocess.rules.answer import Reason
from reprocess.rules.asked import Late
from reprocess.rules.scene import Bench
from reprocess.terms import SECOND_US, Stage

LATE_US = 10 * 60 * SECOND_US
"""An entry recorded longer after the fact is a late entry (D05, site parameter with this default)."""
VERY_LATE_US = 24 * 3600 * SECOND_US
"""Later than this a supervisor must countersign (D05)."""
LATE_CLASS = "late"
"""The contamination class of an item whose cleaning began late (T11)."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Is what the time since the step before comes to (T08)."""

    warnings: tuple[Reason, ...] = ()
    reasons: tuple[Reason, ...] = ()
    back_to: str | None = None


def prompt(step: Step, standing: Standing, bench: Bench) -> Pause:
    """Returns what follows when the step starts this long after the one it must follow promptly (T08)."""
    rule = step.promptly
    before = standing.satisfied.get(rule.of) if rule is not None else None
    begun = step.step in standing.satisfied or (standing.dwell is not None and standing.dwell.step == step.step)
    if rule is None or before is None or begun:
        return Pause()
    since_s = elapsed(before.ended, bench.moment).greatest_us // SECOND_US
    facts: dict[str, str | int | list[str]] = {
        "step": step.step,
        "since": since_s,
        "warn": rule.warn_s,
        "most": rule.most_s,
        "back_to": rule.back_to,
    }
    if since_s > rule.most_s:
        return Pause(reasons=(Reason("T08", "too-late", facts),), back_to=rule.back_to)
    if since_s > rule.warn_s:
        return Pause(warnings=(Reason("T08", "late-start", facts),))
    return Pause()


def use_ended_us(standing: Standing, told_us: int | None) -> int | None:
    """Returns when the use ended that an item is cleaned after: the earliest that it was not cleaned since (T11)."""
    if not standing.used or standing.stage != Stage.USED:
        return told_us
    began_us = standing.use_ended_us or standing.contaminated_us
    return began_us if told_us is None else min(told_us, began_us)


def delay_s(workflow: Workflow, standing: Standing, now_us: int) -> int | None:
    """Returns the delay since the end of use when it calls for the extended path and none is noted yet (T11)."""
    rule = workflow.delay
    if rule is None or standing.delayed or not standing.used or _cleaning_began(standing, rule):
        return None
    began_us = standing.use_ended_us or standing.contaminated_us
    waited_s = (now_us - began_us) // SECOND_US
    return waited_s if waited_s > rule.extended_s else None


def _cleaning_began(standing: Standing, rule: Delay) -> bool:
    """Tells whether cleaning was begun in this cycle, even if that work fell since; a mere finding begins nothing."""
    return any(step in rule.until for step in standing.begun)


def class_when_late(workflow: Workflow, contamination_class: str) -> tuple[str, bool]:
    """Returns (class, complete): the path of an item whose cleaning began late, and whether nothing is missing in it.

    The path has every step of the item's own class and every step of the late one. Where neither of the two classes
    has them all, the item keeps its own and a supervisor must look (T11).
    """
    own, extended = workflow.mandated_for(contamination_class), workflow.mandated_for(LATE_CLASS)
    if own <= extended:
        return LATE_CLASS, True
    return contamination_class, extended <= own


def late(entry: Late | None, step: Step, standing: Standing, bench: Bench) -> list[Reason]:
    """Returns why a late entry cannot count (D05, D07).

    It is in the future, contradicts what is on record, or is not countersigned. What a form says is used to find
    contradictions and for nothing else.
    """
    if entry is None:
        return []
    now = bench.now_us
    began = entry.began_us if entry.began_us is not None else entry.occurred_us
    if entry.occurred_us > now or began > entry.occurred_us:
        return [Reason("D05", "not-in-the-past", {"at_us": entry.occurred_us})]
    reasons = []
    if began < standing.contaminated_us:
        reasons.append(Reason("D07", "earlier-cycle", {"at_us": began, "since_us": standing.contaminated_us}))
    reasons += [
        Reason("D07", "before-its-step", {"step": step.step, "at_us": began, "before": name, "since_us": at_us})
        for name, at_us in _done_before(step, standing)
        if began < at_us
    ]
    if bench.second is None:
        reasons.append(Reason("D05", "countersign", {"paper": entry.paper}))
    supervisor = any(person is not None and "supervisor" in person.roles for person in (bench.actor, bench.second))
    if now - entry.occurred_us > VERY_LATE_US and not supervisor:
        very_late = Reason("D05", "very-late", {"paper": entry.paper}, role="supervisor")
        reasons += override.left(bench, [very_late])
    return reasons


def _done_before(step: Step, standing: Standing) -> list[tuple[str, int]]:
    """Returns the steps that this one rests on and when they happened."""
    done = ((name, standing.satisfied.get(name)) for name in step.after)
    return [(name, evidence.occurred_us) for name, evidence in done if evidence is not None]


def is_late(entry: Late | None, bench: Bench) -> bool:
    """Tells whether an entry counts as late: written down longer ago than the grace of D05."""
    return entry is not None and bench.now_us - entry.occurred_us > LATE_US
