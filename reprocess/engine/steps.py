"""Steps without a clock, reported failures, and release."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from reprocess.definitions.lines import Failing
from reprocess.definitions.model import Step, Workflow
from reprocess.engine import decision as deciding
from reprocess.engine import using
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import DoStep, EndDwell, FailStep, Release
from reprocess.errors import InvariantError, WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import batteries, competence, contact, hold, instrument, life, reading, release, sequence, waiting
from reprocess.rules.answer import Reason, Verdict
from reprocess.rules.scene import Scene
from reprocess.terms import DAY_S, SECOND_US, Stage

DEFECT: Final = re.compile(r"[A-Z]+(-[A-Z]+)*")
"""The form of a defect's code, as in the workflow files."""


def step_or_raise(scene: Scene, name: str) -> Step:
    """Returns the workflow's step of that name.

    Raises:
        WrongUseError: the workflow has no such step; its steps are named.
    """
    step = scene.step(name)
    if step is None:
        known = ", ".join(one.step for one in scene.as_part().workflow.steps)
        message = f"{scene.item.item} has no step called {name}; its steps are {known}."
        raise WrongUseError(message, item=scene.item.item, step=name)
    return step


def do(scene: Scene, request: DoStep) -> Decision:
    """Decides a step without a clock: accepted, refused with every reason, or a failure recorded as a fact."""
    if scene.step(request.step) is None:
        never = sequence.forbidden(scene.as_part().workflow, request.step)
        if never:
            return deciding.refuse(scene, request, never, step=request.step)
    step = step_or_raise(scene, request.step)
    _must_be_plain(step, request)
    judged = reading.judge(step, request.checks, request.readings, request.counts, scene.configuration)
    if judged.failed:
        return failed(scene, request, step, judged)
    scene, facts = before_work(scene, step)
    pause = waiting.prompt(step, scene.item, scene.bench)
    if pause.back_to is not None:
        facts += back_to(scene, pause.back_to, "T08", step.step)
    slow, hurried = sequence.fast(scene, step, request.reason) if request.late is None else ([], [])
    reasons = [
        *competence.may_do(scene, step),
        *sequence.in_order(scene, step),
        *sequence.right_side(scene.bench, step),
        *hold.in_the_way(scene.item, release=False),
        *pause.reasons,
        *waiting.late(request.late, step, scene.item, scene.bench),
        *instrument.believable(scene, step, request.instrument),
        *judged.unread,
        *judged.missing,
        *slow,
        *(materials := using.used(scene, step, request)).reasons,
    ]
    moved, reasons = interrupted(scene, request.step, reasons)
    facts += moved
    if reasons:
        return deciding.refuse(scene, request, reasons, step=step.step, facts=facts)
    warnings = [*hold.told(scene.item), *pause.warnings, *hurried, *sequence.by_hand(scene, step), *materials.warnings]
    late = request.late
    body = words.StepDone(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        evidence="attested" if waiting.is_late(late, scene.bench) else "measured",
        checks=request.checks,
        readings=request.readings,
        counts=request.counts,
        limits=judged.limits,
        instrument=request.instrument,
        lot=request.lot,
        water=materials.water,
        warned=tuple(one.rule for one in warnings),
        reason=request.reason,
        paper=late.paper if late is not None else None,
        done_by=late.done_by if late is not None else None,
        done_with=late.done_with if late is not None else None,
        recurs=True if late is None and recurs(scene, step) else None,
    )
    draft = on_item(scene.item.item, body, late.occurred_us if late is not None else None)
    drafts = [draft, *facts, *materials.drafts]
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def recurs(scene: Scene, step: Step) -> bool:
    """Tells whether the result of a step counts across cycles: in this version of the workflow, or in one before."""
    return scene.as_part().workflow.recurs(step.step) or step.step in scene.item.passes


def _must_be_plain(step: Step, request: DoStep) -> None:
    if step.dwell is not None:
        message = f"{step.step} runs on a clock: start it, and confirm its end."
        raise WrongUseError(message, step=step.step)
    if step.reaches is Stage.READY or step.assembles:
        verb = "released" if step.reaches is Stage.READY else "assembled"
        message = f"{request.item} is {verb} by a command of its own, not as a plain step."
        raise WrongUseError(message, step=step.step)


def before_work(scene: Scene, step: Step) -> tuple[Scene, list[Draft]]:
    """Returns the scene with a late start of cleaning taken in, and the facts to write for it (T11)."""
    workflow, item = scene.as_part().workflow, scene.item
    waited = waiting.delay_s(workflow, item, scene.bench.now_us)
    if waited is None or workflow.delay is None:
        return scene, []
    cls, whole_path = waiting.class_when_late(workflow, item.contamination_class)
    facts = [on_item(item.item, words.DelayFound(delay_s=waited, contamination_class=cls))]
    after = replace(item, delayed=True, contamination_class=cls)
    if waited > workflow.delay.held_s or not whole_path:
        cause = f"cleaning began {waited // 3600} h after use"
        body = hold.placed(deciding.hold_id(item, "administrative", 2), "administrative", "T11", cause, "supervisor")
        facts.append(on_item(item.item, body))
    return deciding.with_item(scene, after), facts


def interrupted(scene: Scene, asked: str, reasons: list[Reason]) -> tuple[list[Draft], list[Reason]]:
    """Returns what a scan at another step does to an open contact: it breaks before its time (T04, E04)."""
    opened = scene.item.dwell
    if opened is None or opened.step == asked or opened.dwell not in sequence.EXCLUSIVE:
        return [], reasons
    seen = contact.judge(opened, scene.bench.moment)
    if seen.end is contact.End.MET:
        told = Reason("T17", "confirm-first", {"step": opened.step})
        return [], [told, *reasons]
    body = words.DwellBroken(
        step=opened.step,
        cause="moved",
        rule="T04",
        wet_s=seen.proven_s,
        least_s=opened.least_s,
    )
    told = Reason("T04", "moved-early", {"step": opened.step, "left": seen.left_s})
    return [on_item(scene.item.item, body)], [told, *reasons]


def back_to(scene: Scene, step: str, rule: str, because: str) -> list[Draft]:
    """Returns the entry by which this step and all that rest on it fall."""
    fallen = deciding.fall(scene.as_part(), (step,))
    body = words.StepsFell(rule=rule, stage=fallen.stage, fell=fallen.fell, because=because)
    return [on_item(scene.item.item, body)]


def fail(scene: Scene, request: FailStep) -> Decision:
    """Records the fact that a step did not pass, with the defects named; never refused.

    Raises:
        WrongUseError: no defect is named, or one of the codes cannot be a code.
    """
    step = step_or_raise(scene, request.step)
    if not request.defects or not all(DEFECT.fullmatch(code) for code in request.defects):
        message = "Name at least one defect by its code, in capital letters, such as SOIL."
        raise WrongUseError(message, step=step.step)
    lines: list[Failing | None] = [one.failing for one in step.checks]
    lines += [one.failing for one in step.readings]
    lines += [one.failing for one in step.counts]
    known = {line.defect: line for line in lines if line is not None}
    found = tuple(
        (Reason("H01", "defect", {"defect": code}), known.get(code, Failing(defect=code, hold=True)))
        for code in request.defects
    )
    return failed(scene, request, step, reading.Judged((), (), found, {}))


def failed(scene: Scene, request: DoStep | FailStep | EndDwell, step: Step, judged: reading.Judged) -> Decision:
    """Returns the decision that records a failed step: what falls, what is held, where the item goes (H01)."""
    item = scene.item
    told = [reason for reason, _ in judged.failed]
    failing = [one for _, one in judged.failed]
    back = {one.back_to or step.step for one in failing} | {step.step}
    fallen = deciding.fall(scene.as_part(), tuple(back))
    defects = tuple(dict.fromkeys(one.defect for one in failing))
    body = words.StepFailed(
        step=step.step,
        stage=fallen.stage,
        defects=defects,
        fell=fallen.fell,
        route=failing[0].route,
        checks={} if isinstance(request, FailStep) else request.checks,
        readings={} if isinstance(request, FailStep) else request.readings,
        counts=request.counts if isinstance(request, DoStep) else {},
        limits=judged.limits,
        instrument=request.instrument if isinstance(request, DoStep) else None,
        recurs=True if recurs(scene, step) else None,
    )
    drafts = [on_item(item.item, body), *defect_hold(scene, failing)]
    drafts += deciding.whole_falls(scene, item, "H01", f"{item.item}: {', '.join(defects)}")
    otherwise = Verdict.ACCEPTED if isinstance(request, FailStep) else Verdict.REFUSED
    return deciding.found(scene, request, drafts, told, defects, step=step.step, otherwise=otherwise)


def defect_hold(scene: Scene, failing: list[Failing]) -> list[Draft]:
    """Returns the hold that one of these defects asks for, if one does (H01)."""
    item = scene.item
    if item.stage == Stage.CONDEMNED or not any(one.hold for one in failing):
        return []
    defects = tuple(dict.fromkeys(one.defect for one in failing))
    sort, rule = "missing-part" if all(code.endswith("MISSING") for code in defects) else "defect", "H01"
    if batteries.hazards(scene.as_part().workflow) & set(defects):
        sort, rule = batteries.HAZARD, "B01"
    body = hold.placed(deciding.hold_id(item, sort), sort, rule, ", ".join(defects), "supervisor")
    return [on_item(item.item, body.model_copy(update={"defects": defects}))]


def release_item(scene: Scene, request: Release) -> Decision:
    """Decides a release: all gates together; a shut one changes nothing about the item but what was said of it."""
    workflow, item = scene.as_part().workflow, scene.item
    step = workflow.release_step
    gates = release.gates(scene, step, request.checks, request.counts)
    slow, hurried = sequence.fast(scene, step, request.reason)
    if gates.reasons or slow:
        # Whoever says no to a line of the checklist states a fact, such as a tag that is not the item's (G03).
        facts = defect_hold(scene, list(gates.failed))
        return deciding.refuse(scene, request, [*gates.reasons, *slow], step=step.step, facts=facts)
    _prove_ready(workflow, item)
    until = _ready_until(scene)
    warnings = [*gates.warnings, *hurried]
    near = {one.rule for one in warnings} & {"T12"}
    if not near and until is not None and until - scene.bench.now_us < life.SOON_S * SECOND_US:
        warnings.append(Reason("G07", "ready-soon-over", {"at_us": until}))
    body = words.ItemReleased(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        digest=scene.digest,
        cycle=item.cycle,
        evidence={name: one.number for name, one in sorted(item.satisfied.items())},
        ready_until_us=until,
        checks=request.checks,
        warned=tuple(one.rule for one in warnings),
    )
    drafts = [on_item(item.item, body)]
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def _ready_until(scene: Scene) -> int | None:
    """Returns how long ready can last: the shelf life, and whatever of every part ends before it (T12, T13)."""
    workflow = scene.as_part().workflow
    ends: list[int] = []
    if workflow.readiness is not None:
        ends.append(scene.bench.now_us + workflow.readiness.days_most * DAY_S * SECOND_US)
    for part in scene.parts.values():
        ends += [at_us for at_us in life.ends_us(part.workflow, part.standing) if not _waived(scene, at_us)]
        if part.standing.ready_until_us is not None:
            ends.append(part.standing.ready_until_us)
    return min(ends, default=None)


def _waived(scene: Scene, end_us: int) -> bool:
    """Tells whether an end that has passed was passed over for this release (T12)."""
    return scene.bench.special.waived == "T12" and end_us <= scene.bench.now_us


def _prove_ready(workflow: Workflow, item: Standing) -> None:
    """Raises unless the item may be called ready (I1); stays on in production, whatever Python is told."""
    needed = workflow.mandated_for(item.contamination_class) - {workflow.release_step.step}
    if not needed <= set(item.satisfied) or item.holds or item.dwell is not None:
        message = f"{item.item} was about to be called ready without its evidence."
        raise InvariantError(message, item=item.item)
