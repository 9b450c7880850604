"""What a load that did not pass reaches: every item of it, wherever it is now (W06, W08, H05, H06; E08, E19)."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.engine import decision as deciding
from reprocess.engine import exposing
from reprocess.engine.decision import on_item
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.loads import Load, LoadState
from reprocess.record.standing import Standing
from reprocess.rules import hold
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import Stage, StreamKind, stream


@dataclass(frozen=True, slots=True)
class Failure:
    """Is why a load does not count: the rule, the cause in one word, and what was seen."""

    rule: str
    cause: str
    because: str


def failed(scene: Scene, load: Load, failure: Failure) -> tuple[list[Draft], list[Reason]]:
    """Returns the entries by which a load fails, and what is told about it.

    Before it passed nothing rested on it: its items start again. Once it had passed they are held as well, whatever
    became of them, those that are out are to be found, and their wearers are a case. A load fails once (E25).
    """
    passed = load.state == LoadState.PASSED
    reached = [scene.parts[name] for name in sorted(load.items) if name in scene.parts]
    alive = [part for part in reached if part.standing.stage != Stage.CONDEMNED]
    out = tuple(part.standing.item for part in alive if _is_out(scene, part.standing)) if passed else ()
    about = stream(StreamKind.LOAD, load.load)
    body = words.LoadFailed(
        rule=failure.rule,
        cause=failure.cause,
        because=failure.because,
        items=tuple(part.standing.item for part in alive),
        out=out,
    )
    drafts = [Draft(about, body), *_stopped(load), *_void(scene, load, reached, failure)]
    case = f"{load.load}-{load.number + 1}"
    if passed:
        drafts += exposing.case_opened(scene, case, failure.rule, f"{load.load}: {failure.because}")
    ready = [part for part in alive if part.standing.stage == Stage.READY and part.standing.item not in out]
    facts: dict[str, Fact] = {
        "load": load.load,
        "because": failure.because,
        "items": len(alive),
        "held": len(alive) if passed else 0,
        "ready": len(ready),
        "out": len(out),
    }
    reasons = [Reason(failure.rule, "load-failed-later" if passed else "load-failed", facts)]
    if out:
        reasons.append(Reason("H05", "bring-back", {"items": list(out)}, role="supervisor"))
    return drafts, reasons + (exposing.told(case, scene.uses) if passed else [])


def _is_out(scene: Scene, item: Standing) -> bool:
    """Tells whether an item is with somebody, alone or as part of an assembly."""
    whole = scene.wholes.get(item.assembly or "")
    return item.custody is not None or (whole is not None and whole.standing.custody is not None)


def _stopped(load: Load) -> list[Draft]:
    if load.state != LoadState.RUNNING:
        return []
    return [Draft(stream(StreamKind.INSTRUMENT, load.machine), words.MachineStopped(load=load.load))]


def _void(scene: Scene, load: Load, reached: list[Part], failure: Failure) -> list[Draft]:
    """Returns what befalls every item of the load, and the assemblies that such items are part of, each once."""
    because = f"{load.load}: {failure.because}"
    drafts: list[Draft] = []
    wholes: dict[str, list[Draft]] = {}
    for part in reached:
        item = part.standing
        own = _void_item(load, part, failure.rule, because)
        drafts += own
        if item.assembly is not None:
            fell = any(isinstance(draft.body, words.StepsFell) and draft.body.fell for draft in own)
            falls = deciding.whole_falls(scene, item, failure.rule, f"{item.item}: {because}") if fell else []
            held = any(isinstance(draft.body, words.HoldPlaced) for draft in own)
            placed = deciding.whole_held(scene, item, "load", because, "supervisor") if held else []
            wholes[item.assembly] = falls or wholes.get(item.assembly) or placed
    return drafts + [draft for one in wholes.values() for draft in one]


def _void_item(load: Load, part: Part, rule: str, because: str) -> list[Draft]:
    item = part.standing
    bound = item.load is not None and item.load.load == load.load
    rests = any(one.load == load.load for one in item.satisfied.values())
    drafts: list[Draft] = []
    if (bound or rests) and item.cycle == load.items.get(item.item):
        drafts.append(fell(part, load.load, rule, because, tuple(step.step for step in part.workflow.steps)))
    elif bound:
        drafts.append(fell(part, load.load, rule, because, ()))
    if load.state == LoadState.PASSED and item.stage != Stage.CONDEMNED:
        drafts += held(item, rule, because, f"{stream(StreamKind.LOAD, load.load)}/failed", len(drafts))
    return drafts


def fell(part: Part, load: str, rule: str, because: str, back_to: tuple[str, ...]) -> Draft:
    """Returns the entry by which what rests on a load falls, from these steps on; the item is bound to it no longer."""
    item = part.standing
    fallen = deciding.fall(part, back_to) if back_to else deciding.Fall((), Stage(item.stage))
    body = words.StepsFell(rule=rule, stage=fallen.stage, fell=fallen.fell, because=because, load=load)
    return on_item(item.item, body)


def held(item: Standing, rule: str, because: str, cause_id: str, ahead: int) -> list[Draft]:
    """Returns the hold on an item because of its load, unless people settled the same cause before (E25)."""
    if hold.answered(item, cause_id):
        return []
    name = deciding.hold_id(item, "load", ahead + 1)
    return [on_item(item.item, hold.placed(name, "load", rule, because, "supervisor", cause_id=cause_id))]
