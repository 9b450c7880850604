"""What a request about one item is judged on."""

from __future__ import annotations

from reprocess.definitions.configuration import Configuration
from reprocess.engine import request as asking
from reprocess.engine.request.paper import OffLimits
from reprocess.gathering import loads
from reprocess.gathering.identity import IdentityRequest
from reprocess.gathering.lots import with_lots
from reprocess.gathering.materials import with_charger, with_materials
from reprocess.gathering.reading import (
    Library,
    file_of,
    part_of,
    parts_of,
    published_stream,
    state_as,
    wholes_of,
)
from reprocess.gathering.solution_scenes import with_solution
from reprocess.ledger.append import Transaction
from reprocess.record.changing import replace
from reprocess.record.entry import Entry
from reprocess.record.places import Instrument, Published, Site
from reprocess.record.touching import Touched
from reprocess.rules.instrument import used_for
from reprocess.rules.scene import Bench, Scene
from reprocess.rules.sequence import BATCH_S
from reprocess.terms import SECOND_US, StreamKind, stream

RECENT = 40
"""How many of an item's latest entries can be undone or corrected by naming them (our choice)."""


AboutItem = asking.ItemRequest | IdentityRequest | OffLimits
"""Requests that name one item, and are judged on it."""


def for_item(read: Transaction, library: Library, at: Bench, request: AboutItem) -> Scene:
    """Returns what a request about one item is judged on: the item, its workflow, and whatever the request names."""
    item = read.item(request.item)
    home = state_as(read, stream(StreamKind.SITE, item.site), Site) if item.known else None
    scene = Scene(bench=at, item=item, home=home)
    part = part_of(read, library, item)
    if part is None:
        return scene
    scene = replace(
        scene,
        workflow=part.workflow,
        digest=part.digest,
        current=part.current,
        current_digest=part.current_digest,
        wholes=wholes_of(read, library, [item]),
    )
    return _worked(read, library, scene, request)


def _worked(read: Transaction, library: Library, scene: Scene, request: AboutItem) -> Scene:
    item = scene.item
    match request:
        case asking.StartDwell():
            scene = with_charger(read, _with_instrument(read, scene, request.instrument))
            return with_solution(read, library, scene, request.solution)
        case asking.EndDwell():
            named = item.dwell.solution if item.dwell is not None else request.solution
            tool = item.dwell.instrument if item.dwell is not None else request.instrument
            return with_solution(read, library, _with_instrument(read, scene, tool), named)
        case asking.DoStep() | asking.PutOn():
            scene = with_members(read, library, _with_instrument(read, scene, request.instrument))
            if isinstance(request, asking.DoStep):
                scene = with_materials(read, scene, request)
            return replace(scene, lately=_lately(read, scene, request))
        case asking.Release():
            used = sorted(used_for(item))
            tools = {name: state_as(read, stream(StreamKind.INSTRUMENT, name), Instrument) for name in used}
            return loads.with_loads(read, with_members(read, library, replace(scene, instruments=tools)))
        case asking.Undo() | asking.Correct():
            recent = _recent(read, request)
            return with_members(read, library, replace(scene, recent=recent))
        case _:
            return _together(read, library, scene, request)


def _together(read: Transaction, library: Library, scene: Scene, request: AboutItem) -> Scene:
    item = scene.item
    match request:
        case asking.SwapPart():
            scene = with_members(read, library, scene)
            return replace(scene, parts={**scene.parts, **parts_of(read, library, (request.part,))})
        case asking.MoveCounted():
            return replace(scene, parts=parts_of(read, library, (request.other,)))
        case asking.Assemble():
            scene = _with_configuration(read, library, scene, request.configuration)
            scene = with_lots(read, scene, *request.lots.values()) if request.lots else scene
            return replace(scene, parts=parts_of(read, library, (*request.members, *item.members.values())))
        case _:
            return with_members(read, library, scene)


def _lately(read: Transaction, scene: Scene, request: asking.DoStep | asking.PutOn) -> int:
    """Returns on how many other items the actor did this step within the last minute, where a hand needs longer."""
    name, actor = request.step, scene.bench.actor
    step = scene.step(name) if isinstance(request, asking.DoStep) else None
    if step is None or step.fastest is None or actor is None:
        return 0
    since_us = scene.bench.now_us - BATCH_S * SECOND_US
    rows = read.touches.of(Touched.PERSON, actor.person, from_us=since_us)
    return len({row.item for row in rows if row.step == name and row.item != scene.item.item})


def with_members(read: Transaction, library: Library, scene: Scene) -> Scene:
    """Returns the scene with the parts of an assembly and its approved configuration."""
    item = scene.item
    if item.configuration is not None:
        scene = _with_configuration(read, library, scene, item.configuration)
    if not item.members:
        return scene
    return replace(scene, parts=parts_of(read, library, tuple(item.members.values())))


def _recent(read: Transaction, request: asking.Undo | asking.Correct) -> tuple[Entry, ...]:
    """Returns the latest entries of the item's stream, with the one that is to be corrected, however old."""
    name = stream(StreamKind.ITEM, request.item)
    recent = read.latest_of(name, RECENT)
    if isinstance(request, asking.Undo) or any(one.number == request.number for one in recent):
        return recent
    return (*(one for one in read.entries_of(name) if one.number == request.number), *recent)


def _with_instrument(read: Transaction, scene: Scene, name: str | None) -> Scene:
    if name is None:
        return scene
    return replace(scene, instrument=state_as(read, stream(StreamKind.INSTRUMENT, name), Instrument))


def _with_configuration(read: Transaction, library: Library, scene: Scene, name: str) -> Scene:
    digest = state_as(read, published_stream("configuration", name), Published).in_force
    if digest is None:
        return scene
    configuration = file_of(library, read, digest, Configuration)
    return replace(scene, configuration=configuration, configuration_digest=digest)
