"""What a step without a clock uses: the lot of a detergent or a part (L10, L12), the water of a rinse (L11)."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.model import Step
from reprocess.engine import lots as taking
from reprocess.engine.request import DoStep
from reprocess.record.entry import Draft
from reprocess.rules import lots, places
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream


@dataclass(frozen=True, slots=True)
class Used:
    """Is what a step uses: the place of its water, why not, what is told, and what is taken from a lot."""

    water: str | None = None
    reasons: tuple[Reason, ...] = ()
    warnings: tuple[Reason, ...] = ()
    drafts: tuple[Draft, ...] = ()


NOTHING = Used()


def used(scene: Scene, step: Step, request: DoStep) -> Used:
    """Returns what a step uses; nothing is asked of a step that names no lot and needs no water."""
    if request.lot is None and step.needs_water is None:
        return NOTHING
    water, reasons = places.water(scene, step, request.water)
    untold = tuple(places.unmeasured(scene, step, request.water))
    if request.lot is None:
        return Used(water, tuple(reasons), untold)
    lot = lots.named(scene, request.lot)
    if lot is None:
        told = Reason("L10", "lot-unknown", {"lot": request.lot, "next": "none"})
        return Used(water, tuple(reasons), (*untold, told))
    reasons += lots.barred(scene, lot, "L10")
    part = lot.sort == "part"
    drafts = taking.taken(scene, lot.lot, 1, stream(StreamKind.ITEM, scene.item.item)) if part else []
    warnings = (*untold, *lots.told(scene, lot, "L10", 1 if part else 0))
    return Used(water, tuple(reasons), warnings, tuple(drafts))
