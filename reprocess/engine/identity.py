"""Which thing an item's record is about (E20-E22): typed codes, tags, doubts, split histories, a new id."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import (
    Contaminate,
    DoubtIdentity,
    GiveTag,
    Recommission,
    SetAside,
    SplitHistory,
    TypeCode,
    WithdrawTag,
)
from reprocess.record import words
from reprocess.record.entry import Draft, Entry
from reprocess.record.standing import Standing
from reprocess.record.touching import following, in_cycles, rows_of
from reprocess.rules import competence, hold
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import ASIDE, Stage

SETTLES = ("supervisor",)
"""Whose role settles an identity, with a second person (S03)."""
STAYS = (words.ItemCommissioned, words.HoldPlaced, words.HoldLifted, words.TagGiven, words.TagWithdrawn)
"""What is the item's own, whatever thing lay on the bench."""


def type_code(scene: Scene, request: TypeCode) -> Decision:
    """Decides whether a typed code names the item: typed twice alike, or by two people (E20)."""
    if not scene.item.known:
        return _unknown(scene, request)
    reasons = competence.known(scene.bench)
    twice, two = request.again == request.item, scene.bench.second is not None
    if request.again is not None and not twice:
        reasons.append(Reason("E20", "typed-unlike", {"item": request.item, "again": request.again}))
    elif not twice and not two:
        reasons.append(Reason("E20", "type-twice", {"item": scene.item.item}))
    if reasons:
        return deciding.refuse(scene, request, reasons)
    body = words.CodeTyped(shown_by="typed-twice" if twice else "two-people")
    warning = Reason("E20", "relabel", {"item": scene.item.item})
    return deciding.accept(scene, request, [on_item(scene.item.item, body)], warnings=[warning])


def give_tag(scene: Scene, request: GiveTag) -> Decision:
    """Decides whether a tag means this item from now on: two people, unless it is the item's own id (E22)."""
    item = scene.item
    if not item.known:
        return _unknown(scene, request)
    own = request.tag == item.item
    reasons = competence.known(scene.bench) if own else competence.two_with_role(scene.bench, SETTLES, "S03", two=True)
    others = [one for one in scene.parts.values() if one.standing.item != item.item and _bears(one.standing, request)]
    if others:
        told = {"tag": request.tag, "item": others[0].standing.item}
        reasons.append(Reason("E22", "tag-taken", {**told}))
    if reasons:
        return deciding.refuse(scene, request, reasons)
    return deciding.accept(scene, request, [on_item(item.item, words.TagGiven(tag=request.tag))])


def _bears(other: Standing, request: GiveTag) -> bool:
    return request.tag in (other.item, other.tag)


def withdraw_tag(scene: Scene, request: WithdrawTag) -> Decision:
    """Records that a tag means the item no longer; its own id goes on meaning it."""
    item = scene.item
    if not item.known:
        return _unknown(scene, request)
    if item.tag != request.tag:
        told = [Reason("E22", "no-such-tag", {"tag": request.tag, "item": item.item})]
        return deciding.refuse(scene, request, told)
    body = words.TagWithdrawn(tag=request.tag, reason=request.reason)
    return deciding.accept(scene, request, [on_item(item.item, body)])


def doubt(scene: Scene, request: DoubtIdentity) -> Decision:
    """Records that nobody is certain which thing this is; both items are held until two people settle it (E21, E22)."""
    if not scene.item.known:
        return _unknown(scene, request)
    others = [one.standing for name, one in scene.parts.items() if name == request.other != scene.item.item]
    named = [scene.item, *others]
    cause = request.cause if request.other is None else f"{request.cause} ({scene.item.item}, {request.other})"
    drafts: list[Draft] = []
    for one in named:
        body = hold.placed(deciding.hold_id(one, "identity"), "identity", "E21", cause, "supervisor")
        drafts.append(on_item(one.item, body))
        drafts += deciding.whole_held(scene, one, "identity", cause, "supervisor")
    told = [Reason("E21", "identity-doubted", {"items": [one.item for one in named], "cause": request.cause})]
    return deciding.found(scene, request, drafts, told, ())


def split(scene: Scene, request: SplitHistory) -> Decision:
    """Decides which entries were about the other item: the steps that rested on them fall, the other starts again."""
    item, other = scene.item, scene.parts.get(request.other)
    if not item.known:
        return _unknown(scene, request)
    reasons = competence.two_with_role(scene.bench, SETTLES, "S03", two=True)
    reasons += _in_doubt(item)
    mine = {one.number: one for one in scene.recent if not isinstance(one.body, STAYS)}
    strange = [number for number in request.numbers if number not in mine]
    if strange or not request.numbers:
        numbers = ", ".join(str(one) for one in strange) or "none"
        reasons.append(Reason("E21", "not-to-split", {"item": item.item, "numbers": numbers}))
    if other is None or other.standing.item == item.item:
        reasons.append(Reason("P05", "unknown-item", {"item": request.other}))
    if reasons or other is None:
        return deciding.refuse(scene, request, reasons)
    numbers_ = tuple(sorted(set(request.numbers)))
    fallen = deciding.fall(scene.as_part(), _rested_on(scene, numbers_))
    body = words.HistorySplit(
        other=request.other, numbers=numbers_, reason=request.reason, stage=fallen.stage, fell=fallen.fell
    )
    drafts = [on_item(item.item, body)]
    because = f"{item.item}: entries were about {request.other}"
    if fallen.fell:
        drafts += deciding.whole_falls(scene, item, "E21", because)
    touched = following(rows_of(item.item, list(scene.recent)), numbers_)
    joined = words.HistoryJoined(other=item.item, numbers=numbers_, reason=request.reason, touched=touched)
    drafts.append(on_item(request.other, joined))
    if other.standing.stage not in ASIDE:  # nobody comes back into service by another one's history
        around = replace(
            scene,
            item=other.standing,
            workflow=other.workflow,
            digest=other.digest,
            current=other.current,
            current_digest=other.current_digest,
        )
        drafts += facts.started_again(around, Contaminate(request.other, "other", note=because))
    return deciding.accept(scene, request, drafts)


def _in_doubt(item: Standing) -> list[Reason]:
    """Returns why the identity cannot be settled: nobody doubted it, so that the item may be in use meanwhile."""
    if any(one.sort == "identity" for one in item.holds.values()):
        return []
    return [Reason("E21", "doubt-first", {"item": item.item})]


def _rested_on(scene: Scene, numbers: tuple[int, ...]) -> tuple[str, ...]:
    """Returns the steps of the present cycle that these entries are about."""
    cycle = scene.item.cycle
    own: list[Entry] = [entry for entry, of in in_cycles(scene.recent) if of == cycle and entry.number in numbers]
    named = [str(step) for entry in own if (step := getattr(entry.body, "step", None)) is not None]
    return tuple(dict.fromkeys(named))


def recommission(scene: Scene, request: Recommission) -> Decision:
    """Decides that an item whose identity cannot be settled begins anew as used, under a new id (E22)."""
    item = scene.item
    if not item.known:
        return _unknown(scene, request)
    reasons = competence.two_with_role(scene.bench, SETTLES, "S03", two=True)
    reasons += _in_doubt(item)
    if item.stage == Stage.CONDEMNED:
        reasons.append(Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)}))
    if request.new in scene.parts or request.new == item.item:
        reasons.append(Reason("E22", "tag-taken", {"tag": request.new, "item": request.new}))
    if reasons:
        return deciding.refuse(scene, request, reasons)
    part = scene.as_part()
    body = words.ItemCommissioned(
        item_kind=item.item_kind,
        model=item.model,
        site=item.site,
        workflow=part.current.workflow,
        digest=part.current_digest,
        serial=request.serial,
        quantity=item.quantity,
        in_service_us=item.in_service_us,
        opened_us=item.opened_us,
        sealed_expiry_us=item.sealed_expiry_us,
        lot=item.lot,
        was=item.item,
        cycles_done=item.cycles_done,
    )
    drafts = [on_item(request.new, body), *_carried(scene, request)]
    note = f"identity lost, begins anew as {request.new}: {request.reason}"
    drafts += facts.set_aside(scene, SetAside(item.item, "lost", note)).drafts
    return deciding.accept(scene, request, drafts, about=drafts[0].stream)


def _carried(scene: Scene, request: Recommission) -> list[Draft]:
    """Returns what an item takes along to its new id: what it carries, its wear, whom it serves, its other holds."""
    item, part = scene.item, scene.as_part()
    drafts: list[Draft] = []
    if item.charge_cycles or item.used_minutes:
        worn = words.ItemWorked(charge_cycles=item.charge_cycles, minutes=item.used_minutes)
        drafts.append(on_item(request.new, worn))
    if item.dedication is not None:
        kept = words.ItemDedicated(place=item.dedication.place, wearer=item.dedication.wearer)
        drafts.append(on_item(request.new, kept))
    bare = replace(part, standing=replace(item, item=request.new, dwell=None, members={}, cycle=1))
    cause = "used" if item.used else "other"
    again = Contaminate(request.new, cause, item.contamination_class, note=f"as {item.item}: {request.reason}")
    drafts += facts.start_again(bare, again, None)
    for one in item.holds.values():
        if one.sort != "identity":
            name, cause = f"{one.sort}-of-{item.item}-{one.number}", f"as {item.item}: {one.cause}"
            placed = hold.placed(name, one.sort, one.rule, cause, one.owner, cause_id=one.cause_id)
            more = {"recall": one.recall, "evidence": one.evidence, "notice": one.notice}
            drafts.append(on_item(request.new, placed.model_copy(update=more)))
    return drafts


def _unknown(
    scene: Scene, request: TypeCode | GiveTag | WithdrawTag | DoubtIdentity | SplitHistory | Recommission
) -> Decision:
    told = [Reason("P05", "unknown-item", {"item": scene.item.item})]
    return deciding.refuse(scene, request, told)
