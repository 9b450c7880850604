"""Facts about an item, which are never refused, and what they void; holds, setting aside and condemnation."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Literal, cast, get_args

from reprocess.definitions.holds import HoldType
from reprocess.definitions.model import CONTAMINATION_CLASSES, Never
from reprocess.engine import decision as deciding
from reprocess.engine import stating
from reprocess.engine.custody_closing import closed_here
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import (
    Condemn,
    Contaminate,
    ItemRequest,
    LiftHold,
    NoteItem,
    PlaceHold,
    ReportMethod,
    SetAside,
)
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import competence, custody_out, hold, life, sequence, waiting
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import Stage

Waste = Literal["general", "regulated", "battery", "electrical", "recycled"]
WASTE = get_args(Waste)
"""Where a condemned item goes (common practice, no source; local codes name the streams)."""

CAUSES = (
    "used",
    "dropped",
    "opened",
    "mixed",
    "touched",
    "soaked",
    "returned-from-repair",
    "found",
    "other",
)
"""What sends an item back to used (P02)."""


def noted(scene: Scene, request: ItemRequest) -> Decision:
    """Keeps a fact about an item that is not on record, in the site's stream."""
    body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words=_words(request))
    told = Reason("P05", "unknown-item", {"item": scene.item.item})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], ())


def _words(request: ItemRequest) -> dict[str, str]:
    names = ("cause", "method", "step", "note", "sort", "to", "reason")
    held = ((name, getattr(request, name, None)) for name in names)
    return {name: value for name, value in held if isinstance(value, str)}


def _closed(scene: Scene, request: ItemRequest) -> Decision | None:
    """Returns the decision for a fact about a condemned item, which it cannot bring back."""
    if scene.item.stage != Stage.CONDEMNED:
        return None
    body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words=_words(request))
    told = Reason("P01", "aside", {"item": scene.item.item, "stage": str(Stage.CONDEMNED)})
    return deciding.found(scene, request, [on_item(scene.item.item, body)], [told], ())


def contaminate(scene: Scene, request: Contaminate) -> Decision:
    """Records that an item must start again; an assembly is dissolved and its parts start again too (P02, U11)."""
    if request.cause not in CAUSES:
        message = f"An item starts again because of one of {', '.join(CAUSES)}, not {request.cause}."
        raise WrongUseError(message, cause=request.cause)
    if request.contamination_class not in CONTAMINATION_CLASSES:
        message = f"The class is one of {', '.join(CONTAMINATION_CLASSES)}, not {request.contamination_class}."
        raise WrongUseError(message)
    closed = _closed(scene, request)
    if closed is not None:
        return closed
    warnings = []
    if request.use_ended_us is not None and request.use_ended_us > scene.bench.now_us:
        warnings.append(Reason("D05", "time-dropped", {"at_us": request.use_ended_us}))
        request = replace(request, use_ended_us=None)
    place, item = scene.bench.station.station, scene.item
    back = closed_here(item, place, request.cause, request.contamination_class)
    return deciding.accept(scene, request, [*started_again(scene, request), *back], warnings=warnings)


def started_again(scene: Scene, request: Contaminate) -> list[Draft]:
    """Returns the entries by which the item starts again, with its parts and the assembly it is part of (P02, U11)."""
    whole = scene.wholes.get(scene.item.assembly or "")
    drafts = start_again(scene.as_part(), request, whole.standing if whole is not None else None)
    for member in scene.item.members.values():
        one = scene.parts[member]
        if one.standing.assembly == scene.item.item:
            drafts += start_again(one, request, scene.item)
    if whole is not None:
        drafts += deciding.whole_falls(scene, scene.item, "P02", f"{scene.item.item} {request.cause}")
    return drafts


def start_again(part: Part, request: Contaminate, whole: Standing | None) -> list[Draft]:
    """Returns the entries by which an item starts again; `whole` is the assembly it leaves by that."""
    item = part.standing
    cls, whole_path = sequence.class_after(part.current, item, request.contamination_class)
    body = words.ItemContaminated(
        cause=request.cause,
        contamination_class=cls,
        cycle=item.cycle + 1,
        workflow=part.current.workflow,
        digest=part.current_digest,
        use_ended_us=waiting.use_ended_us(item, request.use_ended_us),
        note=request.note,
    )
    drafts = []
    if item.dwell is not None:
        opened = item.dwell
        broken = words.DwellBroken(step=opened.step, cause="contaminated", rule="P02", wet_s=0, least_s=opened.least_s)
        drafts.append(on_item(item.item, broken))
    drafts.append(on_item(item.item, body))
    if item.members:
        gone = words.AssemblyDissolved(cause=request.cause, members=dict(item.members))
        drafts.append(on_item(item.item, gone))
    if whole is not None:
        drafts += deciding.leaves(item, whole, request.cause)
    if not whole_path:
        cause = (
            f"{item.contamination_class}, then {request.contamination_class}: neither path has all steps of the other"
        )
        held = hold.placed(deciding.hold_id(item, "administrative"), "administrative", "P16", cause, "supervisor")
        drafts.append(on_item(item.item, held))
    return drafts


def report_method(scene: Scene, request: ReportMethod) -> Decision:
    """Records that a method was used; a forbidden one holds the item and voids its cycle (P12)."""
    item, part = scene.item, scene.as_part()
    closed = _closed(scene, request)
    if closed is not None:
        return closed
    members = [scene.parts[name] for name in item.members.values()]
    reached = [one for one in (part, *members) if _never(one, request.method) is not None]
    if not reached:
        kept = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words=_words(request))
        return deciding.accept(scene, request, [on_item(item.item, kept)])
    because = f"{request.method} reported"
    drafts: list[Draft] = []
    told: list[Reason] = []
    for one in reached:
        never = _never(one, request.method)
        drafts += _void_and_hold(one, never, because)
        text = never.text if never is not None else ""
        told.append(Reason("P12", "never", {"item": one.standing.item, "method": request.method, "text": text}))
    if part not in reached:
        drafts += deciding.parts_bad(part, "P12", f"part of {item.item}: {because}", "supervisor")
    drafts += deciding.whole_falls(scene, item, "P12", f"{item.item}: {because}")
    drafts += deciding.whole_held(scene, item, "defect", because, "supervisor")
    defects = tuple(never.failing.defect for one in reached if (never := _never(one, request.method)) is not None)
    return deciding.found(scene, request, drafts, told, tuple(dict.fromkeys(defects)))


def _never(part: Part, method: str) -> Never | None:
    return next((one for one in part.workflow.never if one.method == method), None)


def _void_and_hold(part: Part, never: Never | None, because: str) -> list[Draft]:
    item = part.standing
    fallen = deciding.fall(part, tuple(step.step for step in part.workflow.steps))
    fell = words.StepsFell(rule="P12", stage=fallen.stage, fell=fallen.fell, because=because)
    body = hold.placed(deciding.hold_id(item, "defect", 2), "defect", "P12", because, "supervisor")
    defects = (never.failing.defect,) if never is not None else ()
    return [on_item(item.item, fell), on_item(item.item, body.model_copy(update={"defects": defects}))]


def place_hold(scene: Scene, request: PlaceHold) -> Decision:
    """Records a hold; never refused. A ready assembly that holds the item falls with it."""
    if request.sort not in set(HoldType):
        message = f"A hold is one of {', '.join(HoldType)}, not {request.sort}."
        raise WrongUseError(message, sort=request.sort)
    item = scene.item
    sort, cause = request.sort, request.cause
    placed = hold.placed(deciding.hold_id(item, sort), sort, "H02", cause, request.owner)
    body = placed.model_copy(update={"evidence": request.evidence, "notice": request.notice})
    drafts = [on_item(item.item, body)]
    drafts += deciding.whole_held(scene, item, sort, cause, request.owner)
    told = [Reason("H04", "placed", {"hold": body.hold, "sort": sort, "cause": cause})]
    told += custody_out.held_outside(item, scene)
    return deciding.found(scene, request, drafts, told, ())


def lift_hold(scene: Scene, request: LiftHold) -> Decision:
    """Decides the end of one hold; the others stay (H02, H10)."""
    reasons = hold.may_lift(scene, request.hold)
    if reasons:
        return deciding.refuse(scene, request, reasons)
    one = scene.item.holds[request.hold]
    body = words.HoldLifted(
        hold=request.hold, disposition=request.disposition, settles=one.cause_id, evidence=request.evidence
    )
    return deciding.accept(scene, request, [on_item(scene.item.item, body)])


def condemn(scene: Scene, request: Condemn) -> Decision:
    """Decides condemnation: two people, one of them with the role (S03); a worn one-wearer part needs one person."""
    item = scene.item
    if item.stage == Stage.CONDEMNED:
        told = [Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})]
        return deciding.refuse(scene, request, told)
    recalled = any(one.recall is not None for one in item.holds.values())
    worn = scene.as_part().workflow.single_wearer and item.used and not recalled
    reasons = (
        competence.known(scene.bench)
        if worn
        else competence.two_with_role(scene.bench, competence.CONDEMN_ROLES, "S03", two=True)
    )
    if reasons:
        return deciding.refuse(scene, request, reasons)
    if request.waste is not None and request.waste not in WASTE:
        message = f"Waste is one of {', '.join(WASTE)}, not {request.waste}."
        raise WrongUseError(message, item=item.item)
    body = words.ItemCondemned(
        reason=request.reason, defects=request.defects, serial=item.serial, waste=cast("Waste | None", request.waste)
    )
    drafts = [on_item(item.item, body), *_leaves(scene, "condemned"), *_members_start_again(scene, "condemned")]
    return deciding.accept(scene, request, drafts)


def _leaves(scene: Scene, cause: str) -> list[Draft]:
    item = scene.item
    whole = scene.wholes.get(item.assembly or "")
    if whole is None:
        return []
    fallen = deciding.whole_falls(scene, item, "C02", f"{item.item} {cause}")
    return [*deciding.leaves(item, whole.standing, cause), *fallen]


def set_aside(scene: Scene, request: SetAside) -> Decision:
    """Records that an item went to repair or cannot be found; either way it is not ready."""
    closed = _closed(scene, request)
    if closed is not None:
        return closed
    item = scene.item
    match request.to:
        case "repair":
            body: words.Body = words.ItemSentToRepair(fault=request.note, statement=request.statement)
        case "lost":
            body = words.ItemLost(note=request.note)
        case _:
            message = f"An item is set aside as repair or lost, not {request.to}."
            raise WrongUseError(message, to=request.to)
    back = closed_here(item, scene.bench.station.station, request.to)
    drafts = [*back, on_item(item.item, body), *_leaves(scene, request.to), *_members_start_again(scene, request.to)]
    if request.to == "lost":
        drafts += [on_item(one, words.ItemLost(note=f"with {item.item}")) for one in _members(scene)]
    held, told = stating.unstated(scene, request, len([one for one in drafts if one.stream == drafts[0].stream]) + 1)
    if told:
        return deciding.found(scene, request, [*drafts, *held], told, ())
    return deciding.accept(scene, request, drafts)


def _members(scene: Scene) -> list[str]:
    """Returns the parts that are in this assembly now."""
    names = scene.item.members.values()
    return [name for name in names if scene.parts[name].standing.assembly == scene.item.item]


def _members_start_again(scene: Scene, what: str) -> list[Draft]:
    """Returns what becomes of the parts of an assembly that is set aside or condemned: none of them stays ready."""
    drafts: list[Draft] = []
    for name in _members(scene):
        request = Contaminate(name, "other", note=f"{scene.item.item} {what}")
        drafts += start_again(scene.parts[name], request, scene.item)
    if scene.item.members:
        gone = words.AssemblyDissolved(cause=what, members=dict(scene.item.members))
        drafts.append(on_item(scene.item.item, gone))
    return drafts


def note(scene: Scene, request: NoteItem) -> Decision:
    """Records small facts of an item's life; a look in store that finds something holds the item (Q03, Q04)."""
    item = scene.item
    drafts: list[Draft] = []
    if request.opened:
        drafts.append(on_item(item.item, words.ItemOpened()))
    if request.charge_cycles or request.minutes:
        worked = words.ItemWorked(charge_cycles=max(0, request.charge_cycles), minutes=max(0, request.minutes))
        drafts.append(on_item(item.item, worked))
        drafts += _worn_out(scene, worked)
    if request.findings is not None:
        day = item.anchor_day or date.fromordinal(scene.bench.local_day).day
        looked = words.ItemInspectedInStore(
            findings=request.findings,
            action=request.action or "none",
            passed=request.passed,
            anchor_day=day,
        )
        drafts.append(on_item(item.item, looked))
        if not request.passed:
            body = hold.placed(
                deciding.hold_id(item, "defect", len(drafts) + 1),
                "defect",
                "Q03",
                request.findings,
                "supervisor",
            )
            drafts.append(on_item(item.item, body))
            drafts += deciding.whole_held(scene, item, "defect", request.findings, "supervisor")
            told = Reason("Q03", "found-in-store", {"findings": request.findings})
            return deciding.found(scene, request, drafts, [told], ())
    if any(isinstance(draft.body, words.StepsFell) for draft in drafts):
        told = Reason("T12", "worn-out", {"item": item.item})
        return deciding.found(scene, request, drafts, [told], ())
    if not drafts:
        message = "Nothing was said about the item."
        raise WrongUseError(message, item=item.item)
    return deciding.accept(scene, request, drafts)


def _worn_out(scene: Scene, worked: words.ItemWorked) -> list[Draft]:
    """Returns how a ready item whose counters reach a limit is ready no longer, nor the assembly it is in (T12)."""
    item = scene.item
    if item.stage != Stage.READY:
        return []
    after = replace(
        item,
        charge_cycles=item.charge_cycles + worked.charge_cycles,
        used_minutes=item.used_minutes + worked.minutes,
    )
    part, because = scene.as_part(), "a limit of its life is reached"
    if not life.in_life(part.workflow, after, scene.bench.now_us)[0]:
        return []
    fallen = deciding.fall(part, (part.workflow.release_step.step,))
    fell = words.StepsFell(rule="T12", stage=fallen.stage, fell=fallen.fell, because=because)
    return [on_item(item.item, fell), *deciding.whole_falls(scene, item, "T12", f"{item.item}: {because}")]
