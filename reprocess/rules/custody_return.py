"""What comes back, compared with what went out: complete, swapped, from another assembly, never issued (P04, P07, S05).

Nothing here refuses: a return is a fact.
"""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.model import Workflow
from reprocess.record.standing import Standing
from reprocess.rules.answer import Reason
from reprocess.rules.custody_out import holder, whole_of
from reprocess.rules.scene import Scene
from reprocess.rules.wearing import class_of
from reprocess.terms import Stage


@dataclass(frozen=True, slots=True)
class Back:
    """Is what came back of an assembly.

    Attributes:
        here: the parts that went out with it and are here, and are not seen as anything else since.
        missing: the parts that went out with it and are not here, slot to item.
        elsewhere: the parts that went out with it and were seen elsewhere since, slot to item.
        swapped: the parts that came out of it in use and are here now.
        foreign: what was scanned and did not go out with it.
        looked: whether somebody said which parts are here.
    """

    here: tuple[str, ...]
    missing: dict[str, str]
    elsewhere: dict[str, str]
    swapped: tuple[str, ...]
    foreign: tuple[str, ...]
    looked: bool


def came_back(scene: Scene, parts: tuple[str, ...] | None, gone: tuple[str, ...]) -> Back:
    """Returns what came back: `parts` were scanned (None where nobody did), `gone` were missed by id or slot."""
    item, custody = scene.item, scene.item.custody
    went_out = custody.members if custody is not None and custody.members else item.members
    swapped = custody.swapped if custody is not None else ()
    scanned = None if parts is None else set(parts)
    here: list[str] = []
    missing: dict[str, str] = {}
    elsewhere: dict[str, str] = {}
    for slot, name in went_out.items():
        part = scene.parts.get(name)
        if part is None or not _expected(part.standing, item, scanned or set()):
            elsewhere[slot] = name
            continue
        seen = name in scanned if scanned is not None else not {name, slot} & set(gone)
        if seen:
            here.append(name)
        else:
            missing[slot] = name
    known = {*went_out.values(), *swapped, item.item}
    foreign = tuple(dict.fromkeys(name for name in parts or () if name not in known))
    return Back(
        here=tuple(here),
        missing=missing,
        elsewhere=elsewhere,
        swapped=tuple(name for name in swapped if scanned is not None and name in scanned and name in scene.parts),
        foreign=foreign,
        looked=parts is not None or bool(gone) or not went_out,
    )


def _expected(part: Standing, whole: Standing, scanned: set[str]) -> bool:
    """Tells whether a part is still to come back with its assembly: in it, or not seen anywhere since it left it."""
    if part.stage == Stage.LOST:
        return part.item in scanned
    if part.assembly is not None:
        return part.assembly == whole.item
    if whole.custody is None or part.stage != Stage.USED or part.begun or part.dwell is not None:
        return False
    returned = part.change is not None and part.change.kind == "item-returned"
    return part.custody is None and not returned and part.contaminated_us >= whole.custody.since_us


def back_already(item: Standing, parts: tuple[str, ...] | None) -> bool:
    """Tells whether an item came back already and nobody worked on it since, with no part that is not its own (U07)."""
    if item.back is None or item.custody is not None or item.begun or item.dwell is not None:
        return False
    return item.stage == Stage.USED and set(parts or ()) <= set(item.back)


def was_out(scene: Scene) -> bool:
    """Tells whether the record knew that the item was out, or that it was worn although nobody had issued it (P07)."""
    return holder(scene.item, scene) is not None or was_worn(scene)


def was_worn(scene: Scene) -> bool:
    """Tells whether the item, or the assembly that it is part of, was put on since it was last cleaned."""
    item, whole = scene.item, whole_of(scene.item, scene)
    worn = [one.wear for one in (item, whole) if one is not None]
    return any(one is not None and one.worn for one in worn)


def class_seen(scene: Scene, told: str, *, soiled: bool) -> str:
    """Returns the contamination class of a return: what is told, else what was seen at taking off, else soil (U08)."""
    wearing, wear = scene.as_part().workflow.wearing, scene.item.wear
    if told != "routine":
        return told
    traced = class_of(wearing, wear.traces) if wearing is not None and wear is not None else "routine"
    if traced != "routine":
        return traced
    return "soiled" if soiled else "routine"


def like_for_like(scene: Scene, part: Standing, others: dict[str, str]) -> tuple[str, Standing] | None:
    """Returns (slot, part) of that one of the others in whose place one of the same kind came, or None (S05, E22)."""
    for slot, name in others.items():
        other = scene.parts.get(name)
        if other is not None and other.standing.item_kind == part.item_kind:
            return slot, other.standing
    return None


def changed_in_use(workflow: Workflow, slot: str) -> bool:
    """Tells whether the part of that slot may be changed while the assembly is worn (U12)."""
    return workflow.wearing is not None and any(one.slot == slot for one in workflow.wearing.swaps)


def told(scene: Scene, back: Back, contamination_class: str) -> list[Reason]:
    """Returns what whoever takes it back must know: P04 and U08."""
    item, found = scene.item, []
    if back.missing:
        parts = sorted(back.missing.values())
        found.append(Reason("P04", "parts-missing", {"item": item.item, "parts": parts}))
    elif not back.looked:
        found.append(Reason("P04", "parts-not-looked-at", {"item": item.item}))
    if contamination_class != "routine":
        found.append(Reason("U08", "special-path", {"item": item.item, "contamination_class": contamination_class}))
    return found


def condemned(item: Standing) -> bool:
    """Tells whether an item is condemned, so that a return changes nothing but where it is."""
    return item.stage == Stage.CONDEMNED
