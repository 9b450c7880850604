"""Return: a fact, at any drop point. What comes back is used; an assembly comes apart; what is wrong is held.

Every part goes on by its own record: what did not come back stays with whoever had it (U11), what came with another
assembly rejoins its own history (E23), and what nobody had issued starts again under a hold (P07).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.definitions.model import CONTAMINATION_CLASSES
from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import Contaminate
from reprocess.engine.request.custody import ReturnItem
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import custody_return as rules
from reprocess.rules import hold, sequence
from reprocess.rules.answer import Reason
from reprocess.rules.custody_out import holder, whole_of
from reprocess.rules.custody_return import Back
from reprocess.rules.scene import Part, Scene


@dataclass(slots=True)
class _Tale:
    """Collects what one return comes to, in the order in which it is written."""

    scene: Scene
    place: str
    used: Contaminate
    drafts: list[Draft] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    warnings: list[Reason] = field(default_factory=list)

    def hold(self, item: Standing, sort: str, rule: str, cause: str) -> None:
        """Adds a hold; its id is unique because no return writes two of one sort and rule."""
        name = f"{sort}-{rule.lower()}-{item.number + 1}"
        self.drafts.append(on_item(item.item, hold.placed(name, sort, rule, cause, "supervisor")))

    def again(self, part: Part, whole: Standing | None) -> None:
        """Adds that an item starts again and leaves the assembly that it is in; what is condemned stays so."""
        if rules.condemned(part.standing):
            return
        request = Contaminate(
            part.standing.item, self.used.cause, self.used.contamination_class, self.used.use_ended_us, self.used.note
        )
        self.drafts += facts.start_again(part, request, whole)

    def back(self, item: Standing, *, gap: bool = False) -> None:
        """Adds that an item is back."""
        had = holder(item, self.scene)
        body = words.ItemReturned(
            place=self.place,
            wearer=had.wearer if had is not None else None,
            contamination_class=self.used.contamination_class,
            used=self.used.cause == "used",
            gap=True if gap else None,
        )
        self.drafts.append(on_item(item.item, body))


def give_back(scene: Scene, request: ReturnItem) -> Decision:
    """Records a return; never refused (P04, P07, U07, U08, U11).

    Raises:
        WrongUseError: there is no such contamination class.
    """
    if request.contamination_class not in CONTAMINATION_CLASSES:
        message = f"The class is one of {', '.join(CONTAMINATION_CLASSES)}, not {request.contamination_class}."
        raise WrongUseError(message)
    item, place = scene.item, request.place or scene.bench.station.station
    if not item.known:
        return _unknown(scene, request)
    if rules.condemned(item):
        had = item.custody.wearer if item.custody is not None else None
        told = [Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})]
        return deciding.found(
            scene, request, [on_item(item.item, words.ItemReturned(place=place, wearer=had))], told, ()
        )
    if rules.back_already(item, request.parts):
        return _received(scene, request, place)
    seen = rules.class_seen(scene, request.contamination_class, soiled=request.soiled)
    ended_us = request.use_ended_us if request.use_ended_us is not None else _off_us(item)
    if ended_us is not None and ended_us > scene.bench.now_us:
        ended_us = None
    used = request.used or rules.was_worn(scene)
    note = None if request.used else "returned unused"
    tale = _Tale(scene, place, Contaminate(item.item, "used" if used else "other", seen, ended_us, note))
    back = rules.came_back(scene, request.parts, request.missing)
    tale.warnings += rules.told(scene, back, seen)
    _whole(tale, request, back)
    _parts(tale, back)
    for name in back.foreign:
        _foreign(tale, back, name)
    _swapped_before(tale, back)
    _faults(tale, request, back)
    _closing(tale, request, back)
    if tale.reasons:
        decision = deciding.found(scene, request, tale.drafts, tale.reasons, ())
        return replace(decision, answer=replace(decision.answer, warnings=tuple(tale.warnings)))
    return deciding.accept(scene, request, tale.drafts, warnings=tale.warnings)


def _received(scene: Scene, request: ReturnItem, place: str) -> Decision:
    """Records that what had been returned at one drop point was scanned at another; parts that turned up are back."""
    seen = rules.class_seen(scene, request.contamination_class, soiled=request.soiled)
    tale = _Tale(scene, place, Contaminate(scene.item.item, "used", seen))
    for name in request.parts or ():
        part = scene.parts.get(name)
        if part is not None and part.standing.custody is not None:
            tale.again(part, whole_of(part.standing, scene))
            tale.back(part.standing)
    if seen not in {scene.item.contamination_class, "routine"}:
        tale.again(scene.as_part(), whole_of(scene.item, scene))
    tale.back(scene.item)
    told = Reason("U07", "returned-before", {"item": scene.item.item})
    return deciding.accept(scene, request, tale.drafts, warnings=[told])


def _unknown(scene: Scene, request: ReturnItem) -> Decision:
    body = words.FactNoted(
        subject=deciding.subject(scene),
        asked=request.asked,
        words={"place": request.place or scene.bench.station.station},
    )
    told = Reason("P05", "unknown-item", {"item": scene.item.item})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], ())


def _off_us(item: Standing) -> int | None:
    return item.wear.off_us if item.wear is not None else None


def _whole(tale: _Tale, request: ReturnItem, back: Back) -> None:
    """Adds that the item itself starts again, alone or with what it was part of; and the gap where nobody issued it."""
    scene, item = tale.scene, tale.scene.item
    whole = whole_of(item, scene)
    tale.again(scene.as_part(), whole)
    if whole is not None:
        tale.drafts += deciding.whole_falls(scene, item, "U11", f"{item.item} came back alone")
        if whole.custody is not None and rules.changed_in_use(scene.wholes[whole.item].workflow, item.slot or ""):
            tale.warnings.append(Reason("U12", "no-swap-told", {"item": item.item, "whole": whole.item}))
    if not rules.was_out(scene) and (item.back is None or item.begun):
        tale.hold(item, "administrative", "P07", "custody gap: nobody is on record as having had it")
        tale.reasons.append(Reason("P07", "never-issued", {"item": item.item}, role="supervisor"))
    if back.missing:
        tale.hold(item, "missing-part", "P04", f"not come back: {', '.join(sorted(back.missing.values()))}")


def _parts(tale: _Tale, back: Back) -> None:
    """Adds what becomes of each part: back with the whole, or still with whoever had it (U11)."""
    scene, item = tale.scene, tale.scene.item
    had = holder(item, scene)
    for name in back.here:
        part = scene.parts[name]
        tale.again(part, item if part.standing.assembly == item.item else None)
        if part.standing.custody is not None:
            tale.back(part.standing)
    for name in back.missing.values():
        part = scene.parts[name]
        if part.standing.assembly == item.item:
            tale.again(part, item)
        kept = words.PartKept(
            whole=item.item,
            wearer=had.wearer if had is not None else None,
            place=had.place if had is not None else tale.place,
            cause="missing",
        )
        tale.drafts.append(on_item(name, kept))
    for name in back.swapped:
        tale.again(scene.parts[name], whole_of(scene.parts[name].standing, scene))
        tale.back(scene.parts[name].standing)


def _foreign(tale: _Tale, back: Back, name: str) -> None:
    """Adds what becomes of a part that did not go out with this: it rejoins its own history (E22, E23, E30, S05)."""
    scene, part = tale.scene, tale.scene.parts.get(name)
    if part is None:
        tale.drafts.append(on_site(scene.bench, words.UnknownScanned(shown=name[:40], because="not on record")))
        tale.reasons.append(Reason("P05", "unknown-item", {"item": name}))
        return
    own, other = part.standing, scene.wholes.get(part.standing.assembly or "")
    _was_with(tale, own)
    if rules.condemned(own):
        tale.reasons.append(Reason("P01", "aside", {"item": own.item, "stage": str(own.stage)}))
        tale.back(own)
        return
    like = rules.like_for_like(scene, own, back.missing)
    instead = like or rules.like_for_like(scene, own, back.elsewhere)
    out = holder(own, scene) is not None
    in_use = out and instead is not None and rules.changed_in_use(scene.as_part().workflow, instead[0])
    tale.again(part, other.standing if other is not None else None)
    if in_use and instead is not None:
        tale.warnings.append(Reason("U12", "swap-not-told", {"item": own.item, "other": instead[1].item}))
    else:
        _doubt(tale, own, like[1] if like is not None else None)
    if other is not None:
        _other(tale, other, own, known_swap=in_use)
    tale.back(own, gap=not out)


def _was_with(tale: _Tale, own: Standing) -> None:
    """Adds that a part was with whoever had what it came back with, so that this wearer is found too (H07)."""
    item, had = tale.scene.item, holder(tale.scene.item, tale.scene)
    if had is not None:
        wearer, place = had.wearer, had.place
    elif item.wear is not None and item.wear.worn:
        wearer, place = item.wear.wearer, tale.place
    else:
        return
    tale.drafts.append(on_item(own.item, words.PartKept(whole=item.item, wearer=wearer, place=place, cause="swapped")))


def _doubt(tale: _Tale, own: Standing, like: Standing | None) -> None:
    """Adds the holds of a part that nobody said was swapped; where one of its kind is missing, both are in doubt."""
    item = tale.scene.item
    where = own.assembly or "no assembly"
    cause = f"custody gap: came back with {item.item}, on record in {where}"
    if like is None:
        tale.hold(own, "administrative", "S05", cause)
    else:
        tale.hold(own, "identity", "E22", f"{cause}, in place of {like.item}: parts or tags were swapped")
        tale.hold(like, "identity", "E22", f"{own.item} came back with {item.item} in its place")
    if like is not None or own.assembly is not None:
        tale.hold(item, "identity", "S05", f"came back with {own.item}, which is on record in {where}")
    tale.reasons.append(Reason("S05", "came-with-another", {"item": own.item, "whole": item.item, "where": where}))


def _other(tale: _Tale, other: Part, own: Standing, *, known_swap: bool) -> None:
    """Adds what becomes of the assembly from which a part turned up elsewhere.

    In the department it comes apart and all of it starts again: nobody knows what was put in its place. While it is
    out it is held and comes apart on its return; a battery that was changed on the ward holds nothing.
    """
    whole = other.standing
    because = f"{own.item} came back with {tale.scene.item.item}"
    if whole.custody is None:
        mixed = Contaminate(whole.item, "mixed", note=because)
        tale.drafts += facts.start_again(other, mixed, None)
        for name in whole.members.values():
            part = tale.scene.parts.get(name)
            if part is not None and name != own.item and part.standing.assembly == whole.item:
                tale.drafts += facts.start_again(part, mixed, whole)
    elif not known_swap:
        fallen = deciding.fall(other, tuple(step.step for step in other.workflow.steps if step.assembles))
        fell = words.StepsFell(rule="S05", stage=fallen.stage, fell=fallen.fell, because=because)
        tale.drafts.append(on_item(whole.item, fell))
    if not known_swap:
        tale.hold(whole, "identity", "S05", because)


def _swapped_before(tale: _Tale, back: Back) -> None:
    """Adds that what came out of it in use carries the class that was seen on the whole, wherever it is now (U12)."""
    custody, seen = tale.scene.item.custody, tale.used.contamination_class
    if custody is None or seen == "routine":
        return
    for name in custody.swapped:
        part = tale.scene.parts.get(name)
        if part is None or name in back.swapped or rules.condemned(part.standing):
            continue
        carried = sequence.class_after(part.current, part.standing, seen)[0]
        if carried != part.standing.contamination_class:
            whole = whole_of(part.standing, tale.scene)
            tale.again(part, whole)
            tale.drafts += deciding.whole_falls(tale.scene, part.standing, "U12", f"{name} carries {seen}")


def _faults(tale: _Tale, request: ReturnItem, back: Back) -> None:
    """Adds the holds for what was reported: it is about a part, nobody says which, so all of them are held (H01)."""
    scene, item = tale.scene, tale.scene.item
    told = []
    if request.fault is not None:
        told.append(("H01", request.fault, Reason("H01", "fault-told", {"item": item.item, "fault": request.fault})))
    if request.cut_off:
        cause = f"cut off its wearer; incident {request.incident or 'not numbered yet'}; condemn it"
        told.append(("E29", cause, Reason("E29", "cut-off", {"item": item.item}, role="supervisor")))
    for rule, cause, reason in told:
        for one in (item, *(scene.parts[name].standing for name in back.here)):
            tale.hold(one, "defect", rule, cause if one is item else f"as part of {item.item}: {cause}")
        tale.reasons.append(reason)


def _closing(tale: _Tale, request: ReturnItem, back: Back) -> None:
    """Adds the entry by which the item itself is back."""
    had = holder(tale.scene.item, tale.scene)
    body = words.ItemReturned(
        place=tale.place,
        wearer=had.wearer if had is not None else None,
        missing=tuple(sorted({*back.missing.values(), *_counted(request, back)})),
        contamination_class=tale.used.contamination_class,
        soiled=request.soiled,
        used=tale.used.cause == "used",
        fault=request.fault,
        parts=request.parts,
        gap=None if rules.was_out(tale.scene) else True,
        incident=request.incident,
    )
    tale.drafts.append(on_item(tale.scene.item.item, body))


def _counted(request: ReturnItem, back: Back) -> set[str]:
    """Returns what is missing that has no id of its own, such as a plug."""
    return {name for name in request.missing if name not in back.missing and name not in back.missing.values()}
