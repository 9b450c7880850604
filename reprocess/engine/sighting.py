"""Who scans a held item has located it: the sighting is kept with its holds (H04, H09)."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import (
    Condemn,
    Correct,
    EnterLine,
    InspectUnit,
    LiftHold,
    PlaceHold,
    PutInQuarantine,
    Recommission,
    Request,
    SetAside,
    SplitHistory,
    Undo,
)
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules.scene import Scene

AT_A_DESK: Final = (
    Condemn,
    Correct,
    EnterLine,
    LiftHold,
    PlaceHold,
    Recommission,
    SetAside,
    SplitHistory,
    Undo,
)
"""What can be asked without the item at hand, so that it locates nothing."""


def with_sightings(request: Request, scene: Scene, decision: Decision) -> Decision:
    """Returns the decision with the sighting of the held item, and of held parts in it, that the scan was.

    A hold is sighted once at each station in a row: repeated scans there add nothing to the item's stream.
    """
    if isinstance(request, (*AT_A_DESK, PutInQuarantine)) or not scene.item.known:
        return decision
    if isinstance(request, InspectUnit) and request.missing:
        return decision
    seen = sightings(scene)
    return replace(decision, drafts=(*decision.drafts, *seen)) if seen else decision


def sightings(scene: Scene, place: str | None = None) -> list[Draft]:
    """Returns the sightings of an item and of the parts built into it: of every open hold not seen here before."""
    item = scene.item
    inside = [part.standing for part in scene.parts.values() if part.standing.assembly == item.item]
    here = scene.bench.station.station
    found = [(one, _unseen(one, here, place)) for one in (item, *inside)]
    return [on_item(one.item, words.HeldSighted(holds=holds, place=place)) for one, holds in found if holds]


def _unseen(item: Standing, station: str, place: str | None) -> tuple[str, ...]:
    if not item.holds:
        return ()
    if place is None and all(one.sighted_at == station for one in item.holds.values()):
        return ()
    return tuple(sorted(item.holds))
