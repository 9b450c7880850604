"""What requests about places, and about what lies in them, are judged on."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine.request.places import (
    AlarmVapour,
    InspectUnit,
    OpenCabinet,
    OpenPlace,
    PutAway,
    ReadPlace,
    SealCabinet,
    TakeOut,
)
from reprocess.engine.request.repair import FinishRepair
from reprocess.gathering.reading import Library, part_of, parts_of, state_as, wholes_of
from reprocess.ledger.append import Transaction
from reprocess.ledger.touches import LAST
from reprocess.lookback.exposure import Doubt, exposed
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.stores import Place
from reprocess.record.touching import Touched
from reprocess.rules.scene import Bench, Contact, Scene
from reprocess.terms import StreamKind, stream

PlaceRequest = OpenPlace | ReadPlace | AlarmVapour | OpenCabinet | SealCabinet
UnitRequest = PutAway | TakeOut | InspectUnit | FinishRepair


def place_scene(read: Transaction, library: Library, at: Bench, request: PlaceRequest) -> Scene:
    """Returns the scene of a request about a place: the place, and what lies in it or was rinsed with its water."""
    name = stream(StreamKind.PLACE, request.place)
    place = state_as(read, name, Place)
    scene = Scene(bench=at, item=Standing(item=""), states={name: place})
    if isinstance(request, ReadPlace) and place.sort == "water-point":
        return _rinsed(read, library, scene, place)
    parts = parts_of(read, library, (*items_at(read, request.place), *getattr(request, "units", ())))
    return replace(scene, parts=parts, wholes=wholes_of(read, library, [one.standing for one in parts.values()]))


def unit_scene(read: Transaction, library: Library, at: Bench, request: UnitRequest) -> Scene:
    """Returns the scene of a request about an item and where it lies, with what else lies there."""
    item = read.item(request.item)
    scene = Scene(bench=at, item=item)
    part = part_of(read, library, item)
    if part is None:
        return scene
    named = [one for one in (item.place, getattr(request, "place", None)) if one is not None]
    places: dict[str, State] = {stream(StreamKind.PLACE, one): _place(read, one) for one in named}
    beside = items_at(read, item.place) if isinstance(request, TakeOut) and item.place is not None else ()
    return replace(
        scene,
        workflow=part.workflow,
        digest=part.digest,
        current=part.current,
        current_digest=part.current_digest,
        states=places,
        parts=parts_of(read, library, (*beside, *item.members.values())),
        wholes=wholes_of(read, library, [item]),
    )


def _place(read: Transaction, place: str) -> Place:
    return state_as(read, stream(StreamKind.PLACE, place), Place)


def items_at(read: Transaction, place: str) -> tuple[str, ...]:
    """Returns the items that lie at a place now, by id; what was issued to a ward of that name does not lie there."""
    rows = read.touches.of(Touched.PLACE, place, from_us=LAST)
    return tuple(row.item for row in rows if row.open_now and read.item(row.item).place == place)


def places_of(read: Transaction, site: str) -> dict[str, State]:
    """Returns every place of a site, by its stream."""
    known = (one for one in read.states_of(StreamKind.PLACE) if isinstance(one, Place) and one.site == site)
    return {stream(StreamKind.PLACE, one.place): one for one in known}


def _rinsed(read: Transaction, library: Library, scene: Scene, place: Place) -> Scene:
    """Returns the scene with every rinse in this water since all its readings were last known to be good (L11)."""
    since_us = min((place.good_us.get(name, 0) for name in place.limits), default=0)
    found = []
    for row in read.touches.of(Touched.PLACE, place.place, from_us=since_us):
        part = part_of(read, library, read.item(row.item))
        if part is not None and row.step is not None:
            found.append(Contact(part, row.cycle, row.step, row.open_now, row.from_feed, row.from_us))
    doubts = [Doubt(one.part.standing.item, one.cycle, one.feed, one.at_us) for one in found]
    uses = exposed(doubts, read.touches.by_since)
    wholes = wholes_of(read, library, [one.part.standing for one in found])
    return replace(scene, contacts=tuple(found), uses=uses, wholes=wholes)
