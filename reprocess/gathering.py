"""What one request must be judged on, read from the record inside the request's own transaction."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.read import Definition, read_definition
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.engine.suspecting import rests_on
from reprocess.errors import DefinitionError
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules.instrument import used_for
from reprocess.rules.scene import Bench, Contact, Part, Scene
from reprocess.terms import StreamKind, as_datetime, stream

RECENT = 40
"""How many of an item's latest entries can be undone or corrected by naming them (our choice)."""

Kind = TypeVar("Kind", bound=State)
File = TypeVar("File", Workflow, Agent, Configuration)


class Library:
    """Keeps the workflows, agents, configurations and profiles that were read, by the digest of their text."""

    def __init__(self) -> None:
        self._read: dict[str, Definition] = {}

    def get(self, read: Transaction, digest: str) -> Definition:
        """Returns the published file of that digest.

        Raises:
            DefinitionError: it was never published, or its text can no longer be read.
        """
        known = self._read.get(digest)
        if known is not None:
            return known
        kept = read.definition(digest)
        if kept is None:
            message = f"The file {digest[:12]} is not among the published ones."
            raise DefinitionError(message, digest=digest)
        definition = read_definition(kept[2], name=kept[1])
        if isinstance(definition, Faults):
            message = f"The published file {kept[1]} can no longer be read."
            raise DefinitionError(message, digest=digest)
        self._read[digest] = definition
        return definition


def published_stream(sort: str, name: str) -> str:
    """Returns the stream of a file, such as `workflow:agent.opa-055`."""
    return stream(StreamKind.WORKFLOW, f"{sort}.{name}")


def state_as(read: Transaction, name: str, kind: type[Kind]) -> Kind:
    """Returns where a stream stands, as the kind of state that its name promises."""
    state = read.state(name)
    if not isinstance(state, kind):
        raise TypeError(name)
    return state


def bench(read: Transaction, moment: Moment, station: str, badge: str | None, second: str | None) -> Bench:
    """Returns where, when and by whom a request is made; badges become persons here and nowhere else."""
    place = state_as(read, stream(StreamKind.STATION, station), Station)
    site = state_as(read, stream(StreamKind.SITE, place.site), Site)
    return Bench(
        moment=moment,
        site=site,
        station=place,
        actor=person_by_badge(read, badge),
        badge=badge,
        second=person_by_badge(read, second),
        second_badge=second,
        local_day=local_day(site.zone, moment.wall_us),
    )


def local_day(zone: str, at_us: int) -> int:
    """Returns the local date of an instant as an ordinal; only days, never durations, are counted in local time."""
    return local(zone, at_us).toordinal()


def local(zone: str, at_us: int) -> datetime:
    """Returns an instant as local time, for display and for rules about days."""
    return as_datetime(at_us).astimezone(ZoneInfo(zone))


def offset_min(zone: str, at_us: int) -> int:
    """Returns the local offset from UTC in minutes at an instant."""
    offset = local(zone, at_us).utcoffset()
    return 0 if offset is None else int(offset.total_seconds() // 60)


def person_by_badge(read: Transaction, badge: str | None) -> Person | None:
    """Returns the person a badge means, or None."""
    person = read.person_of(badge) if badge is not None else None
    return None if person is None else state_as(read, stream(StreamKind.PERSON, person), Person)


def scene_for(read: Transaction, library: Library, at: Bench, request: Request) -> Scene:
    """Returns everything that the rules may look at for this request."""
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
        wholes=_wholes(read, library, [item]),
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
            return replace(scene, parts={**scene.parts, **_parts(read, library, (request.part,))})
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
            return replace(scene, parts=_parts(read, library, (request.other,)))
        case asking.Assemble():
            scene = _with_configuration(read, library, scene, request.configuration)
            return replace(scene, parts=_parts(read, library, (*request.members, *item.members.values())))
        case _:
            return _with_members(read, library, scene)


def part_of(read: Transaction, library: Library, item: Standing) -> Part | None:
    """Returns an item with the workflow of its cycle and the one in force now; None when it is not on record."""
    if not item.known:
        return None
    workflow = _file(library, read, item.digest, Workflow)
    in_force = state_as(read, published_stream("workflow", item.workflow), Published).in_force or item.digest
    return Part(item, workflow, item.digest, _file(library, read, in_force, Workflow), in_force)


def _file(library: Library, read: Transaction, digest: str, kind: type[File]) -> File:
    definition = library.get(read, digest)
    if not isinstance(definition, kind):
        message = f"The file {digest[:12]} is not what the record takes it for."
        raise DefinitionError(message, digest=digest)
    return definition


def _wholes(read: Transaction, library: Library, items: list[Standing]) -> dict[str, Part]:
    wholes: dict[str, Part] = {}
    for name in dict.fromkeys(item.assembly for item in items if item.assembly is not None):
        part = part_of(read, library, read.item(name))
        if part is not None:
            wholes[name] = part
    return wholes


def resting_on(read: Transaction, library: Library, instrument: str) -> tuple[tuple[Part, ...], dict[str, Part]]:
    """Returns the items with results that rest on an instrument, and the assemblies that they are members of."""
    items = [item for item in read.items() if rests_on(item, instrument)]
    parts = [part for item in items if (part := part_of(read, library, item)) is not None]
    return tuple(parts), _wholes(read, library, items)


def _with_members(read: Transaction, library: Library, scene: Scene) -> Scene:
    item = scene.item
    if item.configuration is not None:
        scene = _with_configuration(read, library, scene, item.configuration)
    if not item.members:
        return scene
    return replace(scene, parts=_parts(read, library, tuple(item.members.values())))


def _parts(read: Transaction, library: Library, items: tuple[str, ...]) -> dict[str, Part]:
    found = ((name, part_of(read, library, read.item(name))) for name in dict.fromkeys(items))
    return {name: part for name, part in found if part is not None}


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
    configuration = _file(library, read, digest, Configuration)
    return replace(scene, configuration=configuration, configuration_digest=digest)


def _with_solution(read: Transaction, library: Library, scene: Scene, name: str | None) -> Scene:
    if name is None:
        return scene
    solution = state_as(read, stream(StreamKind.SOLUTION, name), Solution)
    if not solution.known:
        return replace(scene, solution=solution)
    agent = _file(library, read, solution.digest, Agent)
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
        return replace(scene, agent=_file(library, read, digest, Agent), agent_digest=digest)
    solution = scene.solution
    if solution is None or not solution.known:
        return scene
    contacts = _contacts(read, library, solution)
    wholes = _wholes(read, library, [one.part.standing for one in contacts])
    return replace(scene, contacts=tuple(contacts), wholes=wholes)


def _contacts(read: Transaction, library: Library, solution: Solution) -> list[Contact]:
    """Returns every contact that was open at or after the last valid pass, or since the bath was made (L07)."""
    found = []
    since_us = solution.passed_us if solution.passed_us is not None else solution.made_us
    for row in read.contacts(solution.solution, solution.doubt_feed, since_us):
        part = part_of(read, library, read.item(row.item))
        if part is not None:
            found.append(Contact(part, row.cycle, row.step, row.open_now))
    return found
