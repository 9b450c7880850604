"""Putting on, wearing and taking off an assembly: the first can be refused, what a wearer tells is a fact.

A look-over that finds something bad takes the assembly out of service before it is worn (U03). Taking off ends with
the assembly used, in the class that was seen on it (U08), its parts with it.
"""

from __future__ import annotations

from reprocess.definitions.wearing import Wearing, WearStep
from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Contaminate, PutOn, SwapPart, TakeOff, TellSignal
from reprocess.engine.request.custody import IssueItem
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import batteries, hold, instrument, reading
from reprocess.rules import wearing as rules
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import ASIDE, Stage


def _wearing(scene: Scene) -> Wearing:
    told = scene.as_part().workflow.wearing
    if told is None:
        message = f"{scene.item.item} is nothing that is put on; the respirator it belongs to is."
        raise WrongUseError(message, item=scene.item.item)
    return told


def _named(steps: tuple[WearStep, ...], name: str) -> WearStep:
    step = next((one for one in steps if one.step == name), None)
    if step is None:
        known = ", ".join(one.step for one in steps)
        message = f"There is no such step here as {name}; the steps are {known}."
        raise WrongUseError(message, step=name)
    return step


def put_on(scene: Scene, request: PutOn) -> Decision:
    """Decides a step of putting on; an answer no, or a value out of its limits, is a fact that takes it out of service.

    Raises:
        WrongUseError: the item is nothing that is worn, or has no such step.
    """
    wearing = _wearing(scene)
    step = _named(wearing.put_on, request.step)
    judged = reading.judge(step, request.checks, request.readings, request.counts, scene.configuration)
    if judged.failed:
        return unfit(scene, request, judged, "found while putting it on", step=step.step)
    reasons = [
        *rules.may_put_on(scene, wearing, step),
        *instrument.believable(scene, step, request.instrument),
        *judged.unread,
        *judged.missing,
    ]
    if reasons:
        return deciding.refuse(scene, request, reasons, step=step.step)
    wear, anew = scene.item.wear, rules.begins(scene, wearing, step)
    done = (*(wear.put_on if wear is not None and not anew else ()), step.step)
    body = words.WearStepDone(
        phase="put-on",
        step=step.step,
        done=len(done) == len(wearing.put_on),
        checks=request.checks,
        readings=request.readings,
        counts=request.counts,
        limits=judged.limits,
        instrument=request.instrument if step.instrument is not None else None,
        begins=True if anew else None,
        unissued=True if len(done) == len(wearing.put_on) and scene.item.custody is None else None,
    )
    return deciding.accept(scene, request, [on_item(scene.item.item, body)], step=step.step)


def unfit(
    scene: Scene,
    request: PutOn | IssueItem,
    judged: reading.Judged,
    found: str,
    more: list[Reason] | None = None,
    *,
    step: str | None = None,
) -> Decision:
    """Records what a look-over found: the assembly falls back and is held, another one is to be taken (U03)."""
    told = [*(reason for reason, _ in judged.failed), *(more or ())]
    defects = tuple(dict.fromkeys(failing.defect for _, failing in judged.failed))
    because = f"{found}: {', '.join(defects)}"
    whole = scene.as_part()
    fallen = deciding.fall(whole, tuple(one.step for one in whole.workflow.steps if one.assembles))
    fell = words.StepsFell(rule="U03", stage=fallen.stage, fell=fallen.fell, because=because)
    # It is about a part, nobody says which: with its own rule the hold goes along with every part that leaves.
    body = hold.placed(deciding.hold_id(scene.item, "defect", 2), "defect", "U03", because, "supervisor")
    held = body.model_copy(update={"defects": defects})
    drafts = [on_item(scene.item.item, fell), on_item(scene.item.item, held)]
    return deciding.found(scene, request, drafts, told, defects, step=step)


def take_off(scene: Scene, request: TakeOff) -> Decision:
    """Records a step of taking off; after the last of them the assembly and its parts are used.

    Raises:
        WrongUseError: the item is nothing that is worn, has no such step, or nothing of such a name is looked for.
    """
    wearing = _wearing(scene)
    step = _named(wearing.take_off, request.step)
    known = [one.trace for one in wearing.traces]
    if not set(request.traces) <= set(known):
        message = f"What is seen on it is one of {', '.join(known) or 'nothing'}."
        raise WrongUseError(message, item=request.item)
    strayed = rules.strays(scene, wearing, step, request.checks)
    wear, item = scene.item.wear, scene.item
    done = {*(wear.taken_off if wear is not None else ()), step.step}
    ended = done >= {one.step for one in wearing.take_off}
    unseen = wear is None or not wear.worn
    if unseen:
        ended = item.stage == Stage.READY  # somebody wore what the record takes for ready: it is used at once
    body = words.WearStepDone(
        phase="take-off",
        step=step.step,
        done=ended,
        checks=request.checks,
        traces=request.traces,
        strayed=True if strayed else None,
        unissued=True if ended and unseen and not rules.issued(item) else None,
    )
    drafts = [on_item(item.item, body)]
    if ended and item.stage not in ASIDE:
        traces = (*(wear.traces if wear is not None else ()), *request.traces)
        began_us = wear.off_us if wear is not None and wear.off_us is not None else scene.bench.now_us
        used = Contaminate(request.item, "used", rules.class_of(wearing, traces), began_us)
        drafts += facts.started_again(scene, used)
    return deciding.accept(scene, request, drafts, step=step.step, warnings=strayed)


def tell_signal(scene: Scene, request: TellSignal) -> Decision:
    """Records what a wearer heard, saw or felt, and answers with what it asks of them (B07, H05).

    Raises:
        WrongUseError: the item is nothing that is worn, or its file knows no such signal.
    """
    wearing = _wearing(scene)
    signal = next((one for one in wearing.signals if one.signal == request.signal), None)
    if signal is None:
        known = ", ".join(one.signal for one in wearing.signals) or "none"
        message = f"There is no such signal here as {request.signal}; the signals are {known}."
        raise WrongUseError(message, item=request.item)
    body = words.WearSignalled(signal=signal.signal, left_s=signal.left_s)
    asks = " ".join(signal.asks)
    told = Reason("B07", "signal", {"text": signal.text, "asks": asks})
    drafts = [on_item(scene.item.item, body)]
    short, tell = _ran_short(scene, signal.signal)
    drafts += short
    if signal.hold and scene.item.stage not in ASIDE:
        held = hold.placed(deciding.hold_id(scene.item, "defect", 2), "defect", "B07", signal.text, "supervisor")
        drafts.append(on_item(scene.item.item, held))
    return deciding.found(scene, request, drafts, [told, *tell], ())


def _ran_short(scene: Scene, signal: str) -> tuple[list[Draft], list[Reason]]:
    """Returns how a battery is held whose alarm came early; its capacity test is due, as if it had failed one (B06)."""
    early = batteries.early(scene, signal, scene.bench.now_us)
    if early is None:
        return [], []
    part, item = early.part, early.part.standing
    because = f"ran {early.ran_min} min of {early.expected_min} min expected"
    step = batteries.test_step(part.workflow)
    drafts = []
    if step is not None:
        fallen = deciding.fall(part, (step,))
        drafts.append(
            on_item(
                item.item,
                words.StepFailed(
                    step=step,
                    stage=fallen.stage,
                    defects=("BAT-EARLY",),
                    fell=fallen.fell,
                    route="quarantine",
                    readings={"run_min": str(early.ran_min)},
                    limits={"run_min": f"{batteries.EARLY_PERCENT} percent of {early.expected_min}"},
                    recurs=True,
                ),
            )
        )
    body = hold.placed(deciding.hold_id(item, "defect", len(drafts) + 1), "defect", "B06", because, "supervisor")
    facts: dict[str, Fact] = {"item": item.item, "ran": early.ran_min, "expected": early.expected_min}
    return [*drafts, on_item(item.item, body)], [Reason("B06", "ran-short", facts)]


def swap(scene: Scene, request: SwapPart) -> Decision:
    """Decides the change of a part while the assembly is worn: the old one is used, the new one ready (U12).

    The lines are answered after the change; one that is answered no is a fact, and holds the assembly.
    """
    wearing = _wearing(scene)
    allowed = next((one for one in wearing.swaps if one.slot == request.slot), None)
    reasons = rules.may_swap(scene, allowed, request.slot, request.part)
    lines = allowed.checks if allowed is not None else ()
    missing = [one for one in lines if one.check not in request.checks]
    reasons += [Reason("U12", "check-missing", {"check": one.check, "text": one.text}) for one in missing]
    if reasons:
        return deciding.refuse(scene, request, reasons)
    item, out = scene.item, scene.item.members[request.slot]
    former = scene.parts[out]
    body = words.PartSwapped(slot=request.slot, out=out, into=request.part, checks=request.checks)
    drafts = [on_item(item.item, body)]
    if former.standing.assembly == item.item:
        drafts += _comes_out(former, item)
        drafts += _stays_there(former.standing, item)
    drafts.append(on_item(request.part, words.MemberJoined(assembly=item.item, slot=request.slot)))
    bad = [one for one in lines if not request.checks[one.check]]
    if not bad:
        return deciding.accept(scene, request, drafts)
    because = f"after changing the {request.slot}: {', '.join(one.failing.defect for one in bad)}"
    held = hold.placed(deciding.hold_id(item, "defect", 2), "defect", "U12", because, "supervisor")
    drafts.append(on_item(item.item, held))
    told = [Reason("U12", "check-failed", {"text": one.text, "defect": one.failing.defect}) for one in bad]
    return deciding.found(scene, request, drafts, told, tuple(one.failing.defect for one in bad))


def _comes_out(former: Part, whole: Standing) -> list[Draft]:
    """Returns how a part leaves that was worn: used, unless it is condemned, lost or in repair already."""
    if former.standing.stage in ASIDE:
        return deciding.leaves(former.standing, whole, "swapped")
    return facts.start_again(former, Contaminate(former.standing.item, "used"), whole)


def _stays_there(former: Standing, whole: Standing) -> list[Draft]:
    """Returns who has the part that came out of an issued assembly: whoever has the assembly, until it is returned."""
    custody = whole.custody
    if custody is None:
        return []
    kept = words.PartKept(whole=whole.item, wearer=custody.wearer, place=custody.place, cause="swapped")
    return [on_item(former.item, kept)]
