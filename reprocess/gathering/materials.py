"""What an item's steps use beside solutions: lots, the water of a rinse, the charger of a bay."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine.request import DoStep
from reprocess.gathering.lots import with_lots
from reprocess.gathering.places import places_of
from reprocess.ledger.append import Transaction
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream


def with_charger(read: Transaction, scene: Scene) -> Scene:
    """Returns the scene with the charger that the instrument is a bay of, where it is one (B02)."""
    charger = scene.instrument.part_of if scene.instrument is not None else None
    if charger is None:
        return scene
    return replace(scene, states={**scene.states, stream(StreamKind.ITEM, charger): read.item(charger)})


def with_materials(read: Transaction, scene: Scene, request: DoStep) -> Scene:
    """Returns the scene with the lots and the places of water that a step is judged on; a plain step needs neither."""
    step = scene.step(request.step)
    if request.lot is not None:
        scene = with_lots(read, scene, request.lot)
    if step is None or step.needs_water is None:
        return scene
    return replace(scene, states={**scene.states, **places_of(read, scene.bench.site.site)})
