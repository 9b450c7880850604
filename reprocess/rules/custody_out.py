"""Whether an item is out: with a wearer, lent, or between two sites; what is out is not worked on here (U07, C12)."""

from __future__ import annotations

from reprocess.record.custody import Custody
from reprocess.record.standing import Standing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene


def whole_of(item: Standing, scene: Scene) -> Standing | None:
    """Returns the assembly that an item is part of now, or None."""
    whole = scene.wholes.get(item.assembly or "")
    return whole.standing if whole is not None else None


def holder(item: Standing, scene: Scene) -> Custody | None:
    """Returns who has an item: by its own record, or with the assembly that it is part of."""
    if item.custody is not None:
        return item.custody
    whole = whole_of(item, scene)
    return whole.custody if whole is not None else None


def on_its_way(item: Standing, custody: Custody | None) -> list[Reason]:
    """Returns that an item is between two sites and must be received first (C12)."""
    if custody is None or custody.sort != "moving":
        return []
    return [Reason("C12", "on-its-way", {"item": item.item, "site": custody.place})]


def itself_out(item: Standing) -> list[Reason]:
    """Returns that an item is not here to be worked on, by its own record (U07, C12)."""
    return on_its_way(item, item.custody) or _away(item, item.custody)


def _away(item: Standing, custody: Custody | None) -> list[Reason]:
    return [] if custody is None else [Reason("U07", "out-there", {"item": item.item, "place": custody.place})]


def still_out(item: Standing, scene: Scene) -> list[Reason]:
    """Returns that an item is not here to be worked on: return it first, or receive it (U07, C12)."""
    custody = holder(item, scene)
    return on_its_way(item, custody) or _away(item, custody)


def held_outside(item: Standing, scene: Scene) -> list[Reason]:
    """Returns what is asked of whoever has an item that is held: finish safely, bring it back (H05)."""
    custody = holder(item, scene)
    if custody is None or custody.sort == "moving":
        return []
    return [Reason("H05", "issued-and-held", {"item": item.item, "place": custody.place})]


def same_hands(item: Standing, whole: Standing) -> bool:
    """Tells whether a part was issued to the wearer who has the assembly, so that it may go in while that is worn.

    Two of whom nobody knows who they are may be two.
    """
    one, two = item.custody, whole.custody
    if one is None or two is None or one.sort != "issued" or one.wearer is None:
        return False
    return one.wearer == two.wearer
