"""Puts the parts together: ledger, library and clock, to stations, histories and verification."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

from reprocess import enrolment
from reprocess.clock import Clock, SystemClock, clock_for
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.read import read_as
from reprocess.engine import request as asking
from reprocess.engine.enrolling import EnrolRequest
from reprocess.engine.request import Request
from reprocess.enrolment import Held
from reprocess.errors import DefinitionError, ReprocessError, UnknownSubjectError
from reprocess.founding import DepartmentFile
from reprocess.gathering import Library, local, part_of, state_as
from reprocess.ledger import append, verify
from reprocess.ledger.open import Connect, Ledger, connect_sqlite, create_ledger, open_ledger
from reprocess.record.entry import Entry
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.rules.answer import Answer
from reprocess.rules.scene import Part
from reprocess.scheduling import refresh_all
from reprocess.shipped import File, files_in, folder, read_file
from reprocess.station import Call, Desk
from reprocess.terms import StreamKind, stream, subject_of

Subject = TypeVar("Subject", Solution, Person, Instrument)


@dataclass(frozen=True, slots=True)
class Bench:
    """Is a station at which one person (and perhaps a second) works; its methods are the scans.

    Every method takes `key`, the request's own key; without one a new key is made, and a repetition is then
    another request.
    """

    department: Department
    station: str
    badge: str | None = None
    second: str | None = None

    def ask(self, request: Request, *, key: str | None = None) -> Answer:
        """Returns the answer to any request."""
        call = Call(request, self.station, self.badge, self.second, key or self.department.clock.new_id())
        return self.department.desk.take(call)

    def enrol(self, request: EnrolRequest, *, key: str | None = None) -> Answer:
        """Returns the answer to an enrolment: a person, an item, an instrument, a file."""
        own = key or self.department.clock.new_id()
        call = enrolment.EnrolCall(request, self.station, self.badge, self.second, own)
        desk = self.department.desk
        return enrolment.take(desk.ledger, desk.library, desk.clock, call)

    def log(
        self,
        item: str,
        step: str,
        *,
        checks: dict[str, bool] | None = None,
        readings: dict[str, str] | None = None,
        counts: dict[str, int] | None = None,
        instrument: str | None = None,
        reason: str | None = None,
        key: str | None = None,
    ) -> Answer:
        """Returns the answer to a step without a clock; readings are decimal text, such as `"20.5"`."""
        step_done = asking.DoStep(item, step, checks or {}, readings or {}, counts or {}, instrument, reason)
        return self.ask(step_done, key=key)

    def start(
        self,
        item: str,
        step: str,
        *,
        solution: str | None = None,
        temp_c: str | None = None,
        instrument: str | None = None,
        key: str | None = None,
    ) -> Answer:
        """Returns the answer to the start of a dwell."""
        return self.ask(asking.StartDwell(item, step, solution, None, temp_c, instrument), key=key)

    def rewet(self, item: str, *, key: str | None = None) -> Answer:
        """Returns the answer to a re-wet scan."""
        return self.ask(asking.Rewet(item), key=key)

    def end(
        self,
        item: str,
        step: str | None = None,
        *,
        temp_c: str | None = None,
        checks: dict[str, bool] | None = None,
        readings: dict[str, str] | None = None,
        key: str | None = None,
    ) -> Answer:
        """Returns the answer to the confirmation of a dwell's end."""
        return self.ask(asking.EndDwell(item, step, temp_c, checks or {}, readings or {}), key=key)

    def release(self, item: str, *, checks: dict[str, bool] | None = None, key: str | None = None) -> Answer:
        """Returns the answer to a release: ready, or every reason why not."""
        return self.ask(asking.Release(item, checks or {}), key=key)


@dataclass(frozen=True, slots=True)
class Department:
    """Is an open department. Close it when done, or use it in a `with` block."""

    ledger: Ledger
    clock: Clock
    desk: Desk
    library: Library = field(default_factory=Library)

    def __enter__(self) -> Department:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Closes the record."""
        self.ledger.close()

    def station(self, station: str, *, badge: str | None = None, second: str | None = None) -> Bench:
        """Returns a station with the badges of those who work there."""
        return Bench(self, station, badge, second)

    def take_all(self, calls: Sequence[Call]) -> list[Answer | ReprocessError]:
        """Returns the outcome of several calls that share one transaction."""
        return self.desk.take_all(calls)

    def item(self, item: str) -> Standing:
        """Returns where an item stands.

        Raises:
            UnknownSubjectError: no such item is on record.
        """
        with append.looking(self.ledger) as read:
            standing = read.item(item)
        if not standing.known:
            message = f"{item} is not on record."
            raise UnknownSubjectError(message, item=item)
        return standing

    def part(self, item: str) -> Part | None:
        """Returns an item with the workflow of its cycle and the one in force; None when it is not on record."""
        with append.looking(self.ledger) as read:
            return part_of(read, self.library, read.item(item))

    def history(self, name: str) -> list[Entry]:
        """Returns every entry of a stream such as `item:BLW-0041`, oldest first."""
        with append.looking(self.ledger) as read:
            return read.entries_of(name)

    def items(self, *, site: str | None = None, stage: str | None = None) -> Iterator[Standing]:
        """Yields the standing of every item, by id; of one site or stage only where asked."""
        with append.looking(self.ledger) as read:
            yield from read.items(site=site, stage=stage)

    def zone_of_station(self, station: str) -> str:
        """Returns the time zone in which a station shows times; UTC where the station is not known."""
        with append.looking(self.ledger) as read:
            place = state_as(read, stream(StreamKind.STATION, station), Station)
            if not place.number:
                return "UTC"
            return state_as(read, stream(StreamKind.SITE, place.site), Site).zone

    def zone_of_site(self, site: str) -> str:
        """Returns the time zone of a site; UTC where the site is not known."""
        with append.looking(self.ledger) as read:
            return state_as(read, stream(StreamKind.SITE, site), Site).zone

    def zone(self) -> str:
        """Returns the time zone of the first site, for what belongs to no site."""
        with append.looking(self.ledger) as read:
            sites = read.states_of(StreamKind.SITE)
        return next((one.zone for one in sites if isinstance(one, Site)), "UTC")

    def solution(self, solution: str) -> Solution:
        """Returns where a solution stands.

        Raises:
            UnknownSubjectError: no such solution is on record.
        """
        return self._known(StreamKind.SOLUTION, solution, Solution)

    def person(self, person: str) -> Person:
        """Returns a person.

        Raises:
            UnknownSubjectError: no such person is on record.
        """
        return self._known(StreamKind.PERSON, person, Person)

    def instrument(self, instrument: str) -> Instrument:
        """Returns an instrument.

        Raises:
            UnknownSubjectError: no such instrument is on record.
        """
        return self._known(StreamKind.INSTRUMENT, instrument, Instrument)

    def _known(self, kind: StreamKind, name: str, state: type[Subject]) -> Subject:
        with append.looking(self.ledger) as read:
            found = state_as(read, stream(kind, name), state)
        if not found.number:
            message = f"{name} is not on record."
            raise UnknownSubjectError(message, subject=name)
        return found

    def site_of_station(self, station: str) -> str:
        """Returns the site of a station; empty where the station is not known."""
        with append.looking(self.ledger) as read:
            return state_as(read, stream(StreamKind.STATION, station), Station).site

    def agents(self) -> dict[str, Agent]:
        """Returns the agents in force, by name."""
        with append.looking(self.ledger) as read:
            return enrolment.agents_in_force(read, self.library)

    def in_force(self, kind: type[Held]) -> list[Held]:
        """Returns the files of one kind that are in force."""
        with append.looking(self.ledger) as read:
            return list(enrolment.files_in_force(read, self.library, kind).values())

    def first_station(self) -> str | None:
        """Returns the station that was opened first, or None when there is none."""
        with append.looking(self.ledger) as read:
            name = read.first_of("station-opened")
        return None if name is None else subject_of(name)

    def rests_on_examples(self) -> bool:
        """Tells whether any published file holds numbers that are only examples; every output then says so."""
        with append.looking(self.ledger) as read:
            return read.has_examples()

    def stations(self) -> list[Station]:
        """Returns every station, by id."""
        with append.looking(self.ledger) as read:
            found = read.states_of(StreamKind.STATION)
        return [one for one in found if isinstance(one, Station) and one.title]

    def verify(self, *, full: bool = False) -> verify.Report:
        """Returns what verification of the record finds."""
        refresh = partial(refresh_all, library=self.library) if full else None
        return verify.verify(self.ledger, full=full, refresh=refresh)


def open_department(path: str | Path = "department.db", *, clock: Clock | None = None) -> Department:
    """Returns an existing department, to work in and to look into; a demo goes on with its own clock.

    Raises:
        LedgerError: there is none in that file, or it cannot be used safely.
    """
    return _department(open_ledger(Path(path)), clock or clock_for(Path(path)))


def found_department(
    path: str | Path,
    file: str,
    *,
    name: str = "department file",
    clock: Clock | None = None,
    shipped: Sequence[File] | None = None,
    connect: Connect = connect_sqlite,
) -> Department:
    """Returns a new department made from the text of its file; nothing is left behind when that fails.

    Raises:
        DefinitionError: the file, or one of the shipped files, has faults; every fault with its line.
        LedgerError: a department of that name exists, or the folder cannot be written.
    """
    read = read_as(file, DepartmentFile, name=name)
    if isinstance(read, Faults):
        raise DefinitionError(as_text(read), path=name)
    texts = list(files_in(folder())) if shipped is None else shipped
    ledger = create_ledger(Path(path), connect=connect)
    department = _department(ledger, clock)
    try:
        enrolment.found(ledger, department.library, department.clock, read, texts)
    except BaseException:
        ledger.close()
        _remove(Path(path))
        raise
    return department


def _department(ledger: Ledger, clock: Clock | None) -> Department:
    own = clock or SystemClock()
    library = Library()
    return Department(ledger, own, Desk(ledger, library, own), library)


def _remove(path: Path) -> None:
    for suffix in ("", "-wal", "-shm", ".key"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


__all__ = ["Bench", "Department", "found_department", "local", "open_department", "read_file"]
