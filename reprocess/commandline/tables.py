"""From a CSV table to what is recorded: one look for faults, and then all of it in one transaction."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from reprocess import enrolment
from reprocess.department import Bench, Department
from reprocess.engine.request import Further
from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.exchange.reading import Fault, Wanted, World, checked
from reprocess.exchange.sorts import SORTS
from reprocess.gathering import Library, state_as
from reprocess.ledger.append import Transaction, looking
from reprocess.record.places import Site, Station
from reprocess.rules.answer import Answer
from reprocess.station import Call
from reprocess.terms import StreamKind, as_datetime, stream

Tell = Callable[[int, str | None, str, str], None]


@dataclass(slots=True)
class Looked:
    """Is what a look through a file found."""

    lines: int = 0
    new: int = 0
    known: int = 0
    faults: int = 0

    def fields(self) -> dict[str, int]:
        """Returns the counts by name."""
        return {"lines": self.lines, "new": self.new, "known": self.known, "faults": self.faults}


def look_through(department: Department, station: str, file: Path, table: str, tell: Tell) -> Looked:
    """Returns what a file holds, and tells each fault as it is found; nothing is recorded."""
    looked, last = Looked(), 0
    with looking(department.ledger) as read:
        world = _world(read, department, station, file)
        for one in checked(file, SORTS[table], world):
            if isinstance(one, Fault):
                looked.faults += 1
                looked.lines += one.line not in (last, 1)
                last = one.line
                tell(one.line, one.column, one.what, one.write)
            else:
                looked.lines += 1
                looked.new += bool(one.requests)
                looked.known += not one.requests
    return looked


def take(department: Department, bench: Bench, file: Path, table: str) -> Answer | None:
    """Records what a file asks for in one transaction, and returns None; or the first refusal, and nothing is recorded.

    Raises:
        WrongUseError: the file or the record changed since it was looked through.
    """
    place = (bench.station, bench.badge, bench.second)

    def calls(read: Transaction, library: Library) -> Iterator[tuple[enrolment.EnrolCall | Call, str | None]]:
        world = _world(read, department, bench.station, file, library)
        for one in checked(file, SORTS[table], world):
            if isinstance(one, Fault):
                message = f"The file or the record changed meanwhile; line {one.line}: {one.what}. Nothing was taken."
                raise WrongUseError(message)
            yield from _calls(one)

    def _calls(wanted: Wanted) -> Iterator[tuple[enrolment.EnrolCall | Call, str | None]]:
        for request in wanted.requests:
            key = department.clock.new_id()
            if isinstance(request, Further):
                yield Call(request, *place, key, wanted.personal), None
            else:
                yield enrolment.EnrolCall(request, *place, key), wanted.site

    return enrolment.take_together(department.desk, calls)


def _world(
    read: Transaction, department: Department, station: str, file: Path, library: Library | None = None
) -> World:
    place = state_as(read, stream(StreamKind.STATION, station), Station)
    if not place.number:
        message = f"There is no station called {station}."
        raise UnknownSubjectError(message, station=station)
    site = state_as(read, stream(StreamKind.SITE, place.site), Site)
    year = as_datetime(department.clock.now().wall_us).year
    return World(read, library or department.library, site, file.parent, year)
