"""Starting, wetting and breaking a dwell; its end is in `ending`, a dwell known from a form only in `paper`."""

from __future__ import annotations

from reprocess.definitions.model import Step
from reprocess.definitions.times import Dwell
from reprocess.engine import breaking, steps
from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_item, on_solution
from reprocess.engine.request import BreakDwell, Rewet, StartDwell
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules import (
    batteries,
    competence,
    contact,
    hold,
    instrument,
    override,
    places,
    sequence,
    solution,
    waiting,
)
from reprocess.rules.answer import Reason
from reprocess.rules.contact import End, Required
from reprocess.rules.scene import Scene

BREAK_CAUSES = ("dried", "removed", "rinsed", "moved", "opened")


def start(scene: Scene, request: StartDwell) -> Decision:
    """Decides the start of a dwell: who, in which order, in what, at which temperature, for how long."""
    step, dwell = dwell_of(scene, request.step)
    scene, facts = steps.before_work(scene, step)
    pause = waiting.prompt(step, scene.item, scene.bench)
    if pause.back_to is not None:
        facts += steps.back_to(scene, pause.back_to, "T08", step.step)
    times, medium = governing(scene, dwell, request.temp_c)
    reasons = [
        *competence.may_do(scene, step),
        *sequence.in_order(scene, step),
        *sequence.right_side(scene.bench, step),
        *hold.in_the_way(scene.item, release=False),
        *pause.reasons,
        *_clock_runs(scene, step),
        *instrument.believable(scene, step, request.instrument),
        *batteries.may_charge(scene, step, request.temp_c),
        *(places.no_vapour(scene) if dwell.kind == "immersion" else []),
        *medium,
    ]
    moved, reasons = steps.interrupted(scene, request.step, reasons)
    facts += moved
    if reasons or times is None:
        return deciding.refuse(scene, request, reasons, step=step.step, facts=facts)
    attempt = scene.item.restarts + 1
    warnings = [*hold.told(scene.item), *pause.warnings, *_many(scene, dwell, attempt)]
    drafts = [*begun(scene, step, dwell, times, request.temp_c), *facts]
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def dwell_of(scene: Scene, name: str) -> tuple[Step, Dwell]:
    """Returns a step that runs on a clock, and its dwell.

    Raises:
        WrongUseError: the workflow has no such step, or the step has no clock.
    """
    step = steps.step_or_raise(scene, name)
    if step.dwell is None:
        message = f"{step.step} has no clock; log it as done."
        raise WrongUseError(message, step=name)
    return step, step.dwell


def governing(scene: Scene, dwell: Dwell, temp_c: str | None) -> tuple[Required | None, list[Reason]]:
    """Returns the times that govern a dwell that begins, and why its solution or temperature does not do.

    The times are None where something about the solution or its temperature is wrong (L01-L09, P14, P15, T07, M08).
    """
    temp, reasons = contact.temperature(temp_c, dwell)
    chemical = dwell.kind in sequence.CHEMICAL
    agent = scene.agent if chemical else None
    times = contact.required(dwell, agent, scene.floor_s, temp)
    if isinstance(times, list) and not reasons:
        reasons = times
    if chemical:
        reasons = [*reasons, *override.left(scene.bench, solution.allowed(scene, dwell))]
    return (None if reasons or isinstance(times, list) else times), reasons


def _clock_runs(scene: Scene, step: Step) -> list[Reason]:
    """Returns why another clock of the item bars this one: the same step (E03), or a clock that runs beside steps."""
    running = scene.item.dwell
    if running is None or (running.step != step.step and running.dwell in sequence.EXCLUSIVE):
        return []
    left = contact.clock_of(running, scene.bench.moment).left_s
    return [Reason("P01", "clock-runs", {"step": running.step, "left": left})]


def _many(scene: Scene, dwell: Dwell, attempt: int) -> list[Reason]:
    most = contact.RESTARTS_MOST if dwell.restarts_most is None else dwell.restarts_most
    if scene.item.restarts <= most:
        return []
    return [Reason("T05", "many-restarts", {"attempt": attempt, "most": most}, role="supervisor")]


def begun(
    scene: Scene, step: Step, dwell: Dwell, times: Required, temp_c: str | None, occurred_us: int | None = None
) -> list[Draft]:
    """Returns the entries of a dwell that begins: in the item's stream, and in that of the solution it is in.

    The second one takes part in the order of the solution's own entries, so that no test can slip past a contact.
    """
    bath = scene.solution if dwell.kind in sequence.CHEMICAL else None
    body = words.DwellStarted(
        step=step.step,
        cycle=scene.item.cycle,
        dwell=dwell.kind,
        attempt=scene.item.restarts + 1 if dwell.kind in sequence.CHEMICAL else 1,
        least_s=times.least_s,
        greatest_s=times.greatest_s,
        film_s=times.film_s,
        unobserved=dwell.unobserved,
        agent=bath.agent if bath is not None else None,
        claim=times.claim,
        method=times.method,
        solution=bath.solution if bath is not None else None,
        lot=bath.lot if bath is not None else None,
        temp_c=temp_c,
        source=times.source,
        instrument=scene.instrument.instrument
        if scene.instrument is not None and step.instrument is not None
        else None,
    )
    drafts = [on_item(scene.item.item, body, occurred_us)]
    if bath is not None:
        touched = words.SolutionTouched(item=scene.item.item, cycle=scene.item.cycle, step=step.step)
        drafts.append(on_solution(bath.solution, touched))
    return drafts


def rewet(scene: Scene, request: Rewet) -> Decision:
    """Decides a re-wet scan: accepted while the film was wet, a restart when it may have dried (T03)."""
    opened = scene.item.dwell
    if opened is None:
        none = Reason("T03", "no-clock", {"item": scene.item.item})
        return deciding.refuse(scene, request, [none])
    if opened.dwell != "wet-contact":
        wrong = Reason("T03", "no-film", {"step": opened.step})
        return deciding.refuse(scene, request, [wrong], step=opened.step)
    step, _ = dwell_of(scene, opened.step)
    seen = contact.judge(opened, scene.bench.moment)
    facts = breaking.anomaly(scene, opened, seen)
    if seen.end in {End.DRIED, End.UNOBSERVED}:
        return breaking.by_the_clock(scene, request, opened, seen, facts)
    reasons = [
        *competence.may_do(scene, step, as_of_us=began_us(scene)),
        *sequence.right_side(scene.bench, step),
    ]
    if reasons:
        return deciding.refuse(scene, request, reasons, step=opened.step, facts=facts)
    body = words.DwellWetted(step=opened.step, wet_s=seen.proven_s)
    return deciding.accept(scene, request, [on_item(scene.item.item, body), *facts], step=opened.step)


def began_us(scene: Scene) -> int | None:
    """Returns when the open dwell began where the same person goes on with it, so that they may finish (A05)."""
    actor, opened = scene.bench.actor, scene.item.dwell
    if actor is None or opened is None or opened.actor != actor.person:
        return None
    return opened.started.wall_us


def break_(scene: Scene, request: BreakDwell) -> Decision:
    """Records the fact that a dwell was interrupted; what was covered so far is void (T04, E31)."""
    if request.cause not in BREAK_CAUSES:
        message = f"A dwell is interrupted by one of {', '.join(BREAK_CAUSES)}, not {request.cause}."
        raise WrongUseError(message, cause=request.cause)
    opened = scene.item.dwell
    if opened is None:
        return _admitted(scene, request)
    seen = contact.judge(opened, scene.bench.moment)
    body = breaking.body_of(opened, seen, request.cause, "T04")
    told = Reason("T04", "broken", {"cause": request.cause, "proven": seen.proven_s})
    drafts = [on_item(scene.item.item, body), *breaking.anomaly(scene, opened, seen)]
    return deciding.found(scene, request, drafts, [told], (), step=opened.step)


def _admitted(scene: Scene, request: BreakDwell) -> Decision:
    """Records that a film had dried although its end was confirmed: the contact falls, ready or not (E31)."""
    contacts = [
        step.step
        for step in scene.as_part().workflow.steps
        if step.dwell is not None and step.dwell.kind == "wet-contact" and step.step in scene.item.satisfied
    ]
    if request.cause != "dried" or not contacts:
        none = Reason("T04", "no-clock", {"item": scene.item.item})
        return deciding.refuse(scene, request, [none])
    last = max(contacts, key=lambda name: scene.item.satisfied[name].number)
    because = "the film had dried before the end"
    drafts = [
        *steps.back_to(scene, last, "T04", because),
        *deciding.whole_falls(scene, scene.item, "T04", f"{scene.item.item}: {because}"),
    ]
    told = Reason("T04", "dried-after-all", {"step": last})
    return deciding.found(scene, request, drafts, [told], (), step=last)
