"""What deciding returns: the entries to write and the answer; and the small moves that every decision shares."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.definitions.model import Step, Workflow
from reprocess.engine import machine as machines
from reprocess.engine.request import Request
from reprocess.errors import InvariantError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.record.words import Body
from reprocess.rules import hold
from reprocess.rules.answer import Answer, Reason, Verdict
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import Stage, StreamKind, stream

_COMPILED: dict[str, machines.Machine] = {}


@dataclass(frozen=True, slots=True)
class NameDeed:
    """Is what becomes of names, which stand in no entry and are never seen here: by the wearers' pseudonyms.

    Attributes:
        keep: the wearer whose name came with the request and is kept.
        erase: the wearers whose names are erased.
        show: the wearers whose names may be shown to whoever asked.
    """

    keep: str | None = None
    erase: tuple[str, ...] = ()
    show: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Decision:
    """Is what one request comes to. The entries, and what becomes of names, stand together or not at all."""

    drafts: tuple[Draft, ...]
    answer: Answer
    deed: NameDeed | None = None


def on_item(item: str, body: Body, occurred_us: int | None = None) -> Draft:
    """Returns a draft for an item's stream."""
    return Draft(stream(StreamKind.ITEM, item), body, occurred_us)


def on_solution(solution: str, body: Body) -> Draft:
    """Returns a draft for a solution's stream."""
    return Draft(stream(StreamKind.SOLUTION, solution), body)


def on_site(bench: Bench, body: Body) -> Draft:
    """Returns a draft for the site's stream."""
    return Draft(stream(StreamKind.SITE, bench.site.site), body)


def subject(scene: Scene) -> str:
    """Returns the stream that the request is about."""
    return stream(StreamKind.ITEM, scene.item.item)


def accept(
    scene: Scene,
    request: Request,
    drafts: list[Draft],
    *,
    step: str | None = None,
    warnings: list[Reason] | None = None,
    about: str | None = None,
) -> Decision:
    """Returns the decision that writes these entries and says accepted."""
    answer = Answer(
        Verdict.ACCEPTED,
        about or subject(scene),
        request.asked,
        step=step,
        warnings=tuple(warnings or ()),
    )
    return Decision(tuple(drafts), answer)


def found(
    scene: Scene,
    request: Request,
    drafts: list[Draft],
    reasons: list[Reason],
    defects: tuple[str, ...],
    *,
    step: str | None = None,
    about: str | None = None,
    otherwise: Verdict = Verdict.ACCEPTED,
) -> Decision:
    """Returns the decision that records a fact which keeps the item from being ready, and says what it is.

    The verdict is held where a hold is placed, else `otherwise`: accepted for a plain fact, refused where an
    advance was asked for and the fact came instead.
    """
    held = any(isinstance(draft.body, words.HoldPlaced) for draft in drafts)
    answer = Answer(
        Verdict.HELD if held else otherwise,
        about or subject(scene),
        request.asked,
        step=step,
        reasons=tuple(reasons),
        found=defects,
    )
    return Decision(tuple(drafts), answer)


def refuse(
    scene: Scene,
    request: Request,
    reasons: list[Reason],
    *,
    step: str | None = None,
    facts: list[Draft] | None = None,
    about: str | None = None,
) -> Decision:
    """Returns the decision that keeps a refused attempt in the station's stream, with every reason.

    Facts that came to light on the way (a broken contact, a stepped clock, a late start) are written all the same.
    """
    placed = any(isinstance(draft.body, words.HoldPlaced) for draft in facts or ())
    stop = placed or any(reason.rule in {"G02", "H04"} for reason in reasons)
    verdict = Verdict.HELD if stop else Verdict.REFUSED
    name = about or subject(scene)
    unique = tuple({(one.rule, one.key, str(one.facts)): one for one in reasons}.values())
    answer = Answer(verdict, name, request.asked, step=step, reasons=unique)
    attempt = words.AdvanceRefused(
        subject=name,
        asked=request.asked,
        step=step,
        verdict="held" if stop else "refused",
        rules=answer.rules(),
    )
    station = stream(StreamKind.STATION, scene.bench.station.station)
    return Decision((Draft(station, attempt), *(facts or ())), answer)


def compiled_for(digest: str, workflow: Workflow) -> machines.Machine:
    """Returns the one machine of a workflow version."""
    machine = _COMPILED.get(digest)
    if machine is None:
        machine = _COMPILED[digest] = machines.compiled(workflow)
    return machine


def stage_after(scene: Scene, step: Step) -> Stage:
    """Returns the stage once the step is satisfied, as the workflow's machine moves it.

    Raises:
        InvariantError: machine and satisfied set disagree, so something would be called what it is not.
    """
    workflow = scene.as_part().workflow
    machine = compiled_for(scene.digest, workflow)
    stage = machines.moved(machine, scene.item.stage, step.step)
    wanted = workflow.stage_for(frozenset(scene.item.satisfied) | {step.step})
    if stage != wanted:
        message = f"{scene.item.item}: the machine says {stage}, the satisfied steps say {wanted}."
        raise InvariantError(message, item=scene.item.item)
    return stage


@dataclass(frozen=True, slots=True)
class Fall:
    """Is what is left when steps fall."""

    fell: tuple[str, ...]
    stage: Stage


def fall(part: Part, back_to: tuple[str, ...]) -> Fall:
    """Returns which satisfied (or running) steps fall with these, and the stage that is left."""
    item, workflow = part.standing, part.workflow
    stage = Stage(item.stage)
    running = {item.dwell.step} if item.dwell is not None else set()
    held = set(item.satisfied) | running
    if stage in (Stage.CONDEMNED, Stage.LOST, Stage.IN_REPAIR):
        return Fall((), stage)
    reached: set[str] = set()
    for name in back_to:
        reached |= workflow.falling_with(name)
    fell = tuple(sorted(held & reached))
    left = frozenset(set(item.satisfied) - reached)
    machine = compiled_for(part.digest, workflow)
    return Fall(fell, machines.moved(machine, stage, machines.FALL + workflow.stage_for(left)))


def whole_falls(scene: Scene, item: Standing, rule: str, because: str) -> list[Draft]:
    """Returns the entries by which the assembly that holds this item is no longer what it was."""
    if item.assembly is None or item.assembly not in scene.wholes:
        return []
    whole = scene.wholes[item.assembly]
    steps = tuple(step.step for step in whole.workflow.steps if step.assembles)
    fallen = fall(whole, steps)
    if not fallen.fell:
        return []
    body = words.StepsFell(rule=rule, stage=fallen.stage, fell=fallen.fell, because=because)
    return [on_item(item.assembly, body)]


def whole_held(scene: Scene, item: Standing, sort: str, because: str, owner: str) -> list[Draft]:
    """Returns the hold on the assembly that this item is built into: what has a held part is not ready either (G02)."""
    whole = scene.wholes.get(item.assembly or "")
    if whole is None or not any(
        step.assembles and step.step in whole.standing.satisfied for step in whole.workflow.steps
    ):
        return []
    one = whole.standing
    body = hold.placed(hold_id(one, sort), sort, "G02", f"part {item.item}: {because}", owner)
    return [on_item(one.item, body)]


def parts_bad(whole: Part, rule: str, because: str, owner: str) -> list[Draft]:
    """Returns how an assembly falls and is held because of one of its own parts (G02)."""
    fallen = fall(whole, tuple(step.step for step in whole.workflow.steps if step.assembles))
    item = whole.standing
    body = hold.placed(hold_id(item, "defect", 2), "defect", "G02", because, owner)
    fell = words.StepsFell(rule=rule, stage=fallen.stage, fell=fallen.fell, because=because)
    return [on_item(item.item, fell), on_item(item.item, body)]


def leaves(item: Standing, whole: Standing, cause: str) -> list[Draft]:
    """Returns the entries by which a part leaves its assembly.

    It takes the assembly's own holds along, for they may be about this part (H02); a hold that the assembly has
    because of another part (G02) stays with that part.
    """
    drafts = [on_item(item.item, words.MemberLeft(assembly=whole.item, cause=cause))]
    for one in whole.holds.values():
        if one.rule != "G02":
            name = f"{one.sort}-of-{whole.item}-{one.number}"
            body = hold.placed(name, one.sort, one.rule, f"as part of {whole.item}: {one.cause}", one.owner)
            drafts.append(on_item(item.item, body))
    return drafts


def hold_id(item: Standing, sort: str, ahead: int = 1) -> str:
    """Returns the id of a hold about to be placed, unique in the item's stream."""
    return f"{sort}-{item.number + ahead}"


def with_item(scene: Scene, item: Standing) -> Scene:
    """Returns the scene with another standing of the item, after a fact was taken in."""
    return replace(scene, item=item)
