"""In which order: P01, P09, P12, P14, T02, T15 and the human order of things."""

from __future__ import annotations

from reprocess.definitions.model import Step, Workflow
from reprocess.record.standing import Standing
from reprocess.rules import life
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import ASIDE, SECOND_US, Stage

CHEMICAL = ("wet-contact", "immersion")
EXCLUSIVE = ("wet-contact", "immersion", "thermal", "drying", "aeration")
"""Dwells during which no other step of the same item can happen; charging and rest run beside other steps."""


def next_steps(workflow: Workflow, standing: Standing, now_us: int) -> tuple[str, ...]:
    """Returns the steps that may come next, in the workflow's order; the first is the one to name.

    A recurring step is one of them while it is due.
    """
    if standing.stage in ASIDE or standing.stage == Stage.READY:
        return ()
    if standing.dwell is not None and standing.dwell.dwell in EXCLUSIVE:
        return (standing.dwell.step,)
    done = standing.satisfied.keys()
    following = tuple(
        step.step
        for step, needs in workflow.mandated_with_needs(standing.contamination_class)
        if step.step not in done and needs <= done and not (step.new_only and worn(standing))
    )
    return _with_due(workflow, standing, now_us, following) if workflow.recurring else following


def _with_due(workflow: Workflow, standing: Standing, now_us: int, following: tuple[str, ...]) -> tuple[str, ...]:
    due = set(life.due_steps(workflow, standing, now_us))
    return tuple(
        step.step
        for step in workflow.steps
        if step.step in following
        or (
            step.step in due
            and standing.satisfied.keys() >= set(workflow.needed_before(step, standing.contamination_class))
        )
    )


def worn(item: Standing) -> bool:
    """Tells whether an item is no longer new (U09): used, or dropped, touched or soaked before its first use.

    A part that may only be new has no step that cleans it, so whatever contaminated it ends it.
    """
    return item.used or item.cycle > 1


def class_after(workflow: Workflow, item: Standing, asked: str) -> tuple[str, bool]:
    """Returns (class, complete) of an item that is contaminated again: its new class, and whether no step is lost.

    A ready item starts with the class that is told. One that is still on its way keeps what it carries until it is
    ready: the class that asks for more steps stays (P16). Where each of the two asks for a step that the other does
    not, the item keeps its own class and a supervisor must look.
    """
    carried = item.contamination_class
    if item.stage == Stage.READY or carried == asked:
        return asked, True
    own, new = workflow.mandated_for(carried), workflow.mandated_for(asked)
    if own < new or (own == new and asked != "routine"):
        return asked, True
    return carried, new <= own


def in_order(scene: Scene, step: Step) -> list[Reason]:
    """Returns why the step cannot come now: the stage, a step before it, or itself already done (P01, T02, U09)."""
    workflow, item = scene.as_part().workflow, scene.item
    if item.stage in ASIDE:
        return [Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})]
    if item.load is not None:
        return [Reason("W05", "in-a-load", {"item": item.item, "load": item.load.load})]
    if item.stage == Stage.READY:
        return [Reason("P01", "already-ready", {"item": item.item, **_who(item, workflow.release_step.step)})]
    if step.new_only and worn(item):
        return [Reason("U09", "one-wearer-used", {"item": item.item})]
    if step.for_classes and item.contamination_class not in step.for_classes:
        return [Reason("P01", "not-in-this-path", {"step": step.step})]
    again = workflow.recurs(step.step) and step.step in life.due_steps(workflow, item, scene.bench.now_us)
    if step.step in item.satisfied and not again:
        return [Reason("P01", "already-done", {"step": step.step, **_who(item, step.step)})]
    missing = [name for name in workflow.needed_before(step, item.contamination_class) if name not in item.satisfied]
    if not missing:
        return []
    first = next_steps(workflow, item, scene.bench.now_us)
    wet = step.dwell is not None and step.dwell.kind in CHEMICAL and item.stage == Stage.USED
    return [
        Reason(
            "T02" if wet else "P01",
            "not-cleaned" if wet else "out-of-order",
            {
                "step": step.step,
                "missing": missing,
                "next": first[0] if first else "",
            },
        )
    ]


def _who(item: Standing, step: str) -> dict[str, str | int | list[str]]:
    """Returns who did a satisfied step and when, so that whoever comes second knows whom to ask (E16)."""
    evidence = item.satisfied[step]
    return {"by": evidence.actor or "the program", "at_us": evidence.ended.wall_us}


def right_side(bench: Bench, step: Step) -> list[Reason]:
    """Returns why the step does not belong to this side of the bench (P09)."""
    side = bench.station.side
    if "any" in {side, step.zone} or side == step.zone:
        return []
    return [Reason("P09", "wrong-side", {"step": step.step, "zone": step.zone, "side": side})]


def fast(scene: Scene, step: Step, reason: str | None) -> tuple[list[Reason], list[Reason]]:
    """Returns (refusals, warnings) for a hands-on step that ended sooner than a person can do it (T15).

    One scan does not time a step; the time since the item's last entry by the same person is the most it can have
    taken.
    """
    change, floor = scene.item.change, step.fastest
    actor = scene.bench.actor
    if floor is None or change is None or actor is None or change.actor != actor.person:
        return [], []
    took = (scene.bench.moment.mono_us - change.moment.mono_us) // SECOND_US
    same_boot = scene.bench.moment.boot == change.moment.boot
    if not same_boot or took >= floor.least_s:
        return [], []
    facts: dict[str, Fact] = {"step": step.step, "took": took, "least": floor.least_s}
    if reason:
        return [], [Reason("T15", "too-fast-said", facts)]
    return [Reason("T15", "too-fast", facts)], []


BATCH_MOST = 3
"""Items on which one person can begin the same hands-on step within a minute (our choice)."""
BATCH_S = 60


def by_hand(scene: Scene, step: Step) -> list[Reason]:
    """Returns what is told about the hands that do a step: many items at once (T16), or from dirty to clean (P10)."""
    actor, workflow = scene.bench.actor, scene.as_part().workflow
    if actor is None:
        return []
    told = []
    if step.fastest is not None and scene.lately >= BATCH_MOST:
        told.append(Reason("T16", "many-at-once", {"step": step.step, "items": scene.lately + 1, "within": BATCH_S}))
    last = max(scene.item.satisfied.items(), key=lambda one: one[1].number, default=None)
    if last is not None and step.zone == "clean" and last[1].actor == actor.person:
        before = workflow.step_named(last[0])
        if before is not None and before.zone == "dirty":
            told.append(Reason("P10", "clean-hands", {"before": before.step}))
    return told


def forbidden(workflow: Workflow, method: str) -> list[Reason]:
    """Returns why the method must not be used on this kind of item (P12)."""
    return [
        Reason("P12", "never", {"method": never.method, "text": never.text})
        for never in workflow.never
        if never.method == method
    ]
