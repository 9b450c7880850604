"""What one request must be judged on, read from the record inside the request's own transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.label import Agent
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering.reading import (
    Library,
    file_of,
    local_day,
    part_of,
    parts_of,
    published_stream,
    state_as,
    wholes_of,
)
from reprocess.ledger.append import Transaction
from reprocess.lookback.exposure import Doubt, exposed
from reprocess.record.entry import Entry
from reprocess.record.places import Instrument, Published, Site
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.rules.instrument import used_for
from reprocess.rules.scene import Bench, Contact, Scene
from reprocess.terms import StreamKind, stream

RECENT = 40
"""How many of an item's latest entries can be undone or corrected by naming them (our choice)."""

FURTHER: Final[Mapping[type[asking.Further], Callable[[Transaction, Library, Bench, Any], Scene]]] = MappingProxyType(
    {}
)
"""Who reads what the requests that go beyond one item's cycle are judged on, family by family."""


def scene_for(read: Transaction, library: Library, at: Bench, request: Request) -> Scene:
    """Returns everything that the rules may look at for this request."""
    if isinstance(request, asking.Further):
        return FURTHER[type(request)](read, library, at, request)
    match request:
        case asking.MakeSolution() | asking.TestSolution() | asking.TopUpSolution() | asking.EndSolution():
            return _for_solution(read, library, at, request)
        case _:
            return _for_item(read, library, at, request)


def _for_item(  # noqa: PLR0911 - one case a kind
    read: Transaction, library: Library, at: Bench, request: asking.ItemRequest
) -> Scene:
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
    match request:
        case asking.StartDwell():
            return _with_solution(read, library, _with_instrument(read, scene, request.instrument), request.solution)
        case asking.EndDwell():
            named = item.dwell.solution if item.dwell is not None else request.solution
            tool = item.dwell.instrument if item.dwell is not None else request.instrument
            return _with_solution(read, library, _with_instrument(read, scene, tool), named)
        case asking.SwapPart():
            scene = _with_members(read, library, scene)
            return replace(scene, parts={**scene.parts, **parts_of(read, library, (request.part,))})
        case asking.DoStep() | asking.PutOn():
            return _with_members(read, library, _with_instrument(read, scene, request.instrument))
        case asking.Release():
            used = sorted(used_for(item))
            tools = {name: state_as(read, stream(StreamKind.INSTRUMENT, name), Instrument) for name in used}
            return _with_members(read, library, replace(scene, instruments=tools))
        case asking.Undo() | asking.Correct():
            recent = _recent(read, request)
            return _with_members(read, library, replace(scene, recent=recent))
        case asking.MoveCounted():
            return replace(scene, parts=parts_of(read, library, (request.other,)))
        case asking.Assemble():
            scene = _with_configuration(read, library, scene, request.configuration)
            return replace(scene, parts=parts_of(read, library, (*request.members, *item.members.values())))
        case _:
            return _with_members(read, library, scene)


def _with_members(read: Transaction, library: Library, scene: Scene) -> Scene:
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


def _with_solution(read: Transaction, library: Library, scene: Scene, name: str | None) -> Scene:
    if name is None:
        return scene
    solution = state_as(read, stream(StreamKind.SOLUTION, name), Solution)
    if not solution.known:
        return replace(scene, solution=solution)
    agent = file_of(library, read, solution.digest, Agent)
    at = scene.bench
    if solution.passed_us is not None:
        at = replace(at, last_day=local_day(at.site.zone, solution.passed_us))
    return replace(scene, bench=at, solution=solution, agent=agent, agent_digest=solution.digest)


def _for_solution(read: Transaction, library: Library, at: Bench, request: asking.SolutionRequest) -> Scene:
    scene = Scene(bench=at, item=Standing(item=""))
    scene = _with_solution(read, library, scene, request.solution)
    if isinstance(request, asking.MakeSolution):
        digest = state_as(read, published_stream("agent", request.agent), Published).in_force
        if digest is None:
            return replace(scene, agent=None)
        return replace(scene, agent=file_of(library, read, digest, Agent), agent_digest=digest)
    solution = scene.solution
    if solution is None or not solution.known:
        return scene
    contacts = _contacts(read, library, solution)
    if isinstance(request, asking.TestSolution):
        doubts = [Doubt(one.part.standing.item, one.cycle, one.feed, one.at_us) for one in contacts]
        scene = replace(scene, uses=exposed(doubts, read.touches.by_since))
    wholes = wholes_of(read, library, [one.part.standing for one in contacts])
    return replace(scene, contacts=tuple(contacts), wholes=wholes)


def _contacts(read: Transaction, library: Library, solution: Solution) -> list[Contact]:
    """Returns every contact that was open at or after the last valid pass, or since the bath was made (L07)."""
    found = []
    since_us = solution.passed_us if solution.passed_us is not None else solution.made_us
    reached = read.touches.of(Touched.SOLUTION, solution.solution, from_us=since_us, since_feed=solution.doubt_feed)
    for row in reached:
        part = part_of(read, library, read.item(row.item))
        if part is not None:
            found.append(Contact(part, row.cycle, row.step or "", row.open_now, row.from_feed, row.from_us))
    return found
