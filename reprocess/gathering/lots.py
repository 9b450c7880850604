"""What requests about lots, and requests that use one, are judged on."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine.request.lots import ClearLot, CountLot, RecallLot, ReceiveLot, UseLot
from reprocess.gathering.reading import Library
from reprocess.ledger.append import Transaction
from reprocess.record.lots import Lot
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream

LotRequest = ReceiveLot | UseLot | CountLot | RecallLot | ClearLot


def lot_scene(read: Transaction, _: Library, at: Bench, request: LotRequest) -> Scene:
    """Returns the scene of a request about a lot: every lot on record; for a recall the solutions in use too."""
    scene = with_lots(read, Scene(bench=at, item=Standing(item="")), request.lot)
    if not isinstance(request, RecallLot):
        return scene
    return replace(scene, states={**scene.states, **solutions_in_use(read)})


def with_lots(read: Transaction, scene: Scene, *named: str | None) -> Scene:
    """Returns the scene with every lot on record, and with those that are named whether they are on record or not."""
    lots = all_lots(read)
    for lot in named:
        if lot is not None:
            lots.setdefault(stream(StreamKind.LOT, lot), read.state(stream(StreamKind.LOT, lot)))
    return replace(scene, states={**scene.states, **lots})


def all_lots(read: Transaction) -> dict[str, State]:
    """Returns every lot on record, by its stream."""
    lots = (one for one in read.states_of(StreamKind.LOT) if isinstance(one, Lot))
    return {stream(StreamKind.LOT, one.lot): one for one in lots}


def solutions_in_use(read: Transaction) -> dict[str, State]:
    """Returns every bath and container that has not ended, by its stream."""
    known = (one for one in read.states_of(StreamKind.SOLUTION) if isinstance(one, Solution) and one.ended is None)
    return {stream(StreamKind.SOLUTION, one.solution): one for one in known}
