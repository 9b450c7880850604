"""What issue, return and transfer are judged on: the item with its parts, what else the wearer has, what is ready."""

from __future__ import annotations

from dataclasses import replace

from reprocess.definitions.configuration import Configuration
from reprocess.engine.request.custody import (
    DedicateItem,
    HandOn,
    IdentifyWearer,
    IssueItem,
    LendItem,
    ReceiveItem,
    ReturnItem,
    SendItem,
)
from reprocess.gathering.reading import (
    Library,
    file_of,
    part_of,
    parts_of,
    published_stream,
    state_as,
    wholes_of,
)
from reprocess.ledger.append import Transaction
from reprocess.ledger.touches import LAST
from reprocess.record.cases import Case
from reprocess.record.places import Instrument, Published, Site
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.touching import Touched
from reprocess.record.wearers import Wearer
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream


def for_issue(read: Transaction, library: Library, at: Bench, request: IssueItem) -> Scene:
    """Returns what an issue is judged on: the wearer, what they have out, and what else is ready here."""
    scene = _with_item(read, library, at, request.item)
    states: dict[str, State] = {}
    if request.wearer is not None:
        states[stream(StreamKind.WEARER, request.wearer)] = state_as(
            read, stream(StreamKind.WEARER, request.wearer), Wearer
        )
        for row in read.touches.of(Touched.WEARER, request.wearer, from_us=LAST):
            states[stream(StreamKind.ITEM, row.item)] = read.item(row.item)
    for one in read.ready_like(scene.item) if scene.item.known else []:
        states[stream(StreamKind.ITEM, one.item)] = one
    if request.instrument is not None:
        tool = state_as(read, stream(StreamKind.INSTRUMENT, request.instrument), Instrument)
        scene = replace(scene, instrument=tool)
    return replace(scene, states=states)


def for_item(
    read: Transaction, library: Library, at: Bench, request: HandOn | LendItem | ReceiveItem | DedicateItem
) -> Scene:
    """Returns an item with its parts."""
    return _with_item(read, library, at, request.item)


def for_identify(read: Transaction, library: Library, at: Bench, request: IdentifyWearer) -> Scene:
    """Returns an item with all of its entries, as the issue that waits for a name may be long ago; and its cases."""
    scene = _with_item(read, library, at, request.item)
    wearer = stream(StreamKind.WEARER, request.wearer)
    states: dict[str, State] = {wearer: state_as(read, wearer, Wearer)}
    for case in read.states_of(StreamKind.CASE):
        if isinstance(case, Case) and request.item in {use.whole for use in case.uses}:
            states[stream(StreamKind.CASE, case.case)] = case
    return replace(scene, recent=tuple(read.entries_of(stream(StreamKind.ITEM, request.item))), states=states)


def for_send(read: Transaction, library: Library, at: Bench, request: SendItem) -> Scene:
    """Returns an item with its parts, and the site to which it is to go."""
    name = stream(StreamKind.SITE, request.to)
    return replace(_with_item(read, library, at, request.item), states={name: state_as(read, name, Site)})


def for_return(read: Transaction, library: Library, at: Bench, request: ReturnItem) -> Scene:
    """Returns an item with everything that may come back with it, and the assemblies that any of that belongs to."""
    scene = _with_item(read, library, at, request.item)
    item, custody = scene.item, scene.item.custody
    went_out = (*custody.members.values(), *custody.swapped) if custody is not None else ()
    named = tuple(name for name in (*(request.parts or ()), *went_out) if name != item.item)
    parts = {**scene.parts, **parts_of(read, library, named)}
    wholes = {**scene.wholes, **wholes_of(read, library, [one.standing for one in parts.values()])}
    inside = tuple(name for one in wholes.values() for name in one.standing.members.values() if name not in parts)
    others = {name: one for name, one in parts_of(read, library, inside).items() if name != item.item}
    return replace(scene, parts={**parts, **others}, wholes=wholes)


def _with_item(read: Transaction, library: Library, at: Bench, name: str) -> Scene:
    """Returns an item with its workflow, its parts, its configuration and the assembly that it is part of."""
    item = read.item(name)
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
        parts=parts_of(read, library, tuple(item.members.values())),
    )
    return _with_configuration(read, library, scene, item)


def _with_configuration(read: Transaction, library: Library, scene: Scene, item: Standing) -> Scene:
    if item.configuration is None:
        return scene
    digest = state_as(read, published_stream("configuration", item.configuration), Published).in_force
    if digest is None:
        return scene
    configuration = file_of(library, read, digest, Configuration)
    return replace(scene, configuration=configuration, configuration_digest=digest)
