"""What the record says about items, files, people and places, read inside one transaction."""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.read import Definition, read_definition
from reprocess.engine.suspecting import rests_on
from reprocess.errors import DefinitionError
from reprocess.ledger.append import Transaction
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.places import Published, Site, Station
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules.scene import Bench, Part
from reprocess.terms import StreamKind, as_datetime, stream

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


def local_text(zone: str, at_us: int) -> str:
    """Returns an instant as people read it: date and 24-hour clock, with its offset where the clock shows it twice."""
    here = local(zone, at_us)
    twice = here.replace(fold=0).utcoffset() != here.replace(fold=1).utcoffset()
    return here.strftime("%Y-%m-%d %H:%M") + (f" {here.isoformat()[-6:]}" if twice else "")


def offset_min(zone: str, at_us: int) -> int:
    """Returns the local offset from UTC in minutes at an instant."""
    offset = local(zone, at_us).utcoffset()
    return 0 if offset is None else int(offset.total_seconds() // 60)


def person_by_badge(read: Transaction, badge: str | None) -> Person | None:
    """Returns the person a badge means, or None."""
    person = read.person_of(badge) if badge is not None else None
    return None if person is None else state_as(read, stream(StreamKind.PERSON, person), Person)


def part_of(read: Transaction, library: Library, item: Standing) -> Part | None:
    """Returns an item with the workflow of its cycle and the one in force now; None when it is not on record."""
    if not item.known:
        return None
    workflow = file_of(library, read, item.digest, Workflow)
    in_force = state_as(read, published_stream("workflow", item.workflow), Published).in_force or item.digest
    return Part(item, workflow, item.digest, file_of(library, read, in_force, Workflow), in_force)


def file_of(library: Library, read: Transaction, digest: str, kind: type[File]) -> File:
    """Returns the published file of that digest as the kind that the record takes it for.

    Raises:
        DefinitionError: it is of another kind.
    """
    definition = library.get(read, digest)
    if not isinstance(definition, kind):
        message = f"The file {digest[:12]} is not what the record takes it for."
        raise DefinitionError(message, digest=digest)
    return definition


def wholes_of(read: Transaction, library: Library, items: list[Standing]) -> dict[str, Part]:
    """Returns the assemblies that these items are part of, by id."""
    wholes: dict[str, Part] = {}
    for name in dict.fromkeys(item.assembly for item in items if item.assembly is not None):
        part = part_of(read, library, read.item(name))
        if part is not None:
            wholes[name] = part
    return wholes


def parts_of(read: Transaction, library: Library, items: tuple[str, ...]) -> dict[str, Part]:
    """Returns these items with their workflows, by id; what is not on record is left out."""
    found = ((name, part_of(read, library, read.item(name))) for name in dict.fromkeys(items))
    return {name: part for name, part in found if part is not None}


def resting_on(read: Transaction, library: Library, instrument: str) -> tuple[tuple[Part, ...], dict[str, Part]]:
    """Returns the items with results that rest on an instrument, and the assemblies that they are members of."""
    items = [item for item in read.items() if rests_on(item, instrument)]
    parts = [part for item in items if (part := part_of(read, library, item)) is not None]
    return tuple(parts), wholes_of(read, library, items)
