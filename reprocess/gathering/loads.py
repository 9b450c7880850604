"""What requests about loads are judged on: the load, its machine, its logger, its items, and who wore them."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine import request as asking
from reprocess.gathering.reading import Library, local_day, parts_of, state_as, wholes_of
from reprocess.ledger.append import Transaction
from reprocess.lookback.exposure import Doubt, exposed
from reprocess.record.loads import Load, LoadState
from reprocess.record.places import Instrument, Site
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.touching import Touched
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import StreamKind, stream


def for_machine(read: Transaction, _: Library, at: Bench, request: asking.SetProgramme) -> Scene:
    """Returns the scene of a request about a machine alone."""
    return _with_machine(read, Scene(bench=at, item=Standing(item="")), request.machine)


def for_opening(read: Transaction, _: Library, at: Bench, request: asking.OpenLoad) -> Scene:
    """Returns the scene in which a load is made up."""
    scene, _load = _with_load(read, Scene(bench=at, item=Standing(item="")), request.load)
    return _with_machine(read, scene, request.machine)


def for_adding(read: Transaction, library: Library, at: Bench, request: asking.AddToLoad) -> Scene:
    """Returns the scene in which items go into a load."""
    scene, _load = _with_load(read, Scene(bench=at, item=Standing(item="")), request.load)
    return _with_items(read, library, scene, request.items)


def for_load(
    read: Transaction,
    library: Library,
    at: Bench,
    request: asking.RemoveFromLoad | asking.StartLoad | asking.UnloadLoad | asking.EndLoad | asking.FailLoad,
) -> Scene:
    """Returns the scene of a request about a load and everything in it; with the uses that rest on one that passed."""
    scene, load = _with_load(read, Scene(bench=at, item=Standing(item="")), request.load)
    if load.known:
        scene = _with_machine(read, scene, load.machine)
    found = request.items if isinstance(request, asking.UnloadLoad) else ()
    scene = _with_items(read, library, scene, (*load.items, *found))
    if isinstance(request, asking.EndLoad) and request.logger is not None:
        tool = state_as(read, stream(StreamKind.INSTRUMENT, request.logger), Instrument)
        scene = replace(scene, instrument=tool)
    if isinstance(request, asking.FailLoad | asking.EndLoad) and load.state == LoadState.PASSED:
        rows = [row for row in read.touches.of(Touched.LOAD, load.load) if row.item in load.items]
        doubts = [Doubt(row.item, row.cycle, row.from_feed, row.from_us) for row in rows]
        scene = replace(scene, uses=exposed(doubts, read.touches.by_since))
    return scene


def with_loads(read: Transaction, scene: Scene) -> Scene:
    """Returns the scene with the loads that an item's evidence rests on, as they stand now (G11)."""
    names = {one.load for one in scene.item.satisfied.values() if one.load is not None}
    found: dict[str, State] = {
        stream(StreamKind.LOAD, name): read.state(stream(StreamKind.LOAD, name)) for name in names
    }
    return replace(scene, states={**scene.states, **found}) if found else scene


def _with_load(read: Transaction, scene: Scene, name: str) -> tuple[Scene, Load]:
    key = stream(StreamKind.LOAD, name)
    load = state_as(read, key, Load)
    return replace(scene, states={**scene.states, key: load}), load


def _with_machine(read: Transaction, scene: Scene, name: str) -> Scene:
    """Returns the scene with a machine, and the local day of its latest test (W01)."""
    key = stream(StreamKind.INSTRUMENT, name)
    machine = state_as(read, key, Instrument)
    at = scene.bench
    tested = None if machine.verified_us is None else local_day(at.site.zone, machine.verified_us)
    return replace(scene, bench=replace(at, last_day=tested), states={**scene.states, key: machine})


def _with_items(read: Transaction, library: Library, scene: Scene, names: tuple[str, ...]) -> Scene:
    """Returns the scene with items, the parts of those that are assemblies, the assemblies they are in, their sites."""
    parts = parts_of(read, library, names)
    members = tuple(member for part in parts.values() for member in part.standing.members.values())
    parts = {**parts_of(read, library, members), **parts}
    wholes = wholes_of(read, library, [part.standing for part in parts.values()])
    return replace(scene, parts=parts, wholes=wholes, states={**scene.states, **_sites(read, parts)})


def _sites(read: Transaction, parts: dict[str, Part]) -> dict[str, State]:
    names = {stream(StreamKind.SITE, part.standing.site) for part in parts.values()}
    return {name: state_as(read, name, Site) for name in names}
