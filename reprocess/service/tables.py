"""From a CSV table to what is recorded: one look for faults, and then all of it in one transaction."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from reprocess import enrolment
from reprocess.department import Department
from reprocess.engine.request import Further
from reprocess.errors import NotAllowedError, UnknownSubjectError, WrongUseError
from reprocess.exchange.reading import Fault, Wanted, World, checked
from reprocess.exchange.sorts import SORTS
from reprocess.gathering import Library, state_as
from reprocess.ledger.append import Transaction, looking
from reprocess.record.places import Site, Station
from reprocess.rules.answer import Answer
from reprocess.station import Call
from reprocess.terms import StreamKind, as_datetime, stream

Tell = Callable[[Fault], None]


@dataclass(frozen=True, slots=True)
class Given:
    """Is a table as it was handed in, and who hands it in where.

    Attributes:
        sort: which table it is, such as items.
        text: returns its text from the beginning; it is read twice.
        folder: where files lie that it names; None where there are none.
        station: where it is handed in; its site is that of lines which name none.
        badge: by whom.
        second: the badge of a second person.
        identity: how they are known.
        sites: the sites that they are limited to; empty means all.
    """

    sort: str
    text: Callable[[], IO[str]]
    folder: Path | None
    station: str
    badge: str | None
    second: str | None = None
    identity: str = "claimed"
    sites: frozenset[str] = frozenset()


@dataclass(slots=True)
class Looked:
    """Is what a look through a table found."""

    lines: int = 0
    new: int = 0
    known: int = 0
    faults: int = 0

    def fields(self) -> dict[str, int]:
        """Returns the counts by name."""
        return {"lines": self.lines, "new": self.new, "known": self.known, "faults": self.faults}


def look_through(department: Department, given: Given, tell: Tell) -> Looked:
    """Returns what a table holds, and tells each fault as it is found; nothing is recorded.

    Raises:
        UnknownSubjectError: there is no such station.
        NotAllowedError: a line is about a site that is not theirs.
    """
    looked, last = Looked(), 0
    with looking(department.ledger) as read, given.text() as file:
        for one in checked(file, SORTS[given.sort], _world(read, department, given, department.library)):
            if isinstance(one, Fault):
                looked.faults += 1
                looked.lines += one.line not in (last, 1)
                last = one.line
                tell(one)
            else:
                _must_be_theirs(one, given)
                looked.lines += 1
                looked.new += bool(one.requests)
                looked.known += not one.requests
    return looked


def take(department: Department, given: Given) -> Answer | None:
    """Records what a table asks for in one transaction and returns None; or the first refusal, having taken nothing.

    Raises:
        WrongUseError: the table or the record changed since it was looked through.
    """
    place = (given.station, given.badge, given.second)

    def calls(read: Transaction, library: Library) -> Iterator[tuple[enrolment.EnrolCall | Call, str | None]]:
        with given.text() as file:
            for one in checked(file, SORTS[given.sort], _world(read, department, given, library)):
                if isinstance(one, Fault):
                    why = f"line {one.line}: {one.what}"
                    message = f"The file or the record changed meanwhile; {why}. Nothing was taken."
                    raise WrongUseError(message)
                _must_be_theirs(one, given)
                yield from _calls(one)

    def _calls(wanted: Wanted) -> Iterator[tuple[enrolment.EnrolCall | Call, str | None]]:
        for request in wanted.requests:
            key = department.clock.new_id()
            if isinstance(request, Further):
                yield Call(request, *place, key, wanted.personal, identity=given.identity), None
            else:
                yield enrolment.EnrolCall(request, *place, key, identity=given.identity), wanted.site

    return enrolment.take_together(department.desk, calls)


def _must_be_theirs(wanted: Wanted, given: Given) -> None:
    if given.sites and wanted.site is not None and wanted.site not in given.sites:
        message = f"A line is about {wanted.site}, which is not a site of yours. Nothing was taken."
        raise NotAllowedError(message, site=wanted.site)


def _world(read: Transaction, department: Department, given: Given, library: Library) -> World:
    place = state_as(read, stream(StreamKind.STATION, given.station), Station)
    if not place.number:
        message = f"There is no station called {given.station}."
        raise UnknownSubjectError(message, station=given.station)
    site = state_as(read, stream(StreamKind.SITE, place.site), Site)
    year = as_datetime(department.clock.now().wall_us).year
    return World(read, library, site, given.folder, year)
