"""Puts the parts together: ledger, library and clock, to stations, histories and verification."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Final, TypeVar

from reprocess import enrolment
from reprocess.clock import Clock, SystemClock, clock_for
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.read import read_as
from reprocess.engine import request as asking
from reprocess.engine.enrolling import EnrolRequest
from reprocess.engine.live import Missing, missing
from reprocess.engine.request import Request
from reprocess.enrolment import Held
from reprocess.errors import DefinitionError, LedgerError, ReprocessError, UnknownSubjectError
from reprocess.founding import DepartmentFile
from reprocess.gathering import Library, local, part_of, published_stream, state_as
from reprocess.gathering.lookback import look, standing_at
from reprocess.gathering.places import items_at
from reprocess.gathering.reading import parts_of
from reprocess.gathering.recalls import Asked, Place, in_service, places, reached
from reprocess.gathering.wearers import Kept, kept
from reprocess.ledger import append, files, verify
from reprocess.ledger.address import Server, database_of, is_address
from reprocess.ledger.feed import Sealed
from reprocess.ledger.names import Name
from reprocess.ledger.open import Connect, Ledger, connect_sqlite, create_ledger, open_ledger, remove
from reprocess.ledger.reviews import Refusals, Waiting
from reprocess.ledger.touches import LAST
from reprocess.lookback.trace import Lookback
from reprocess.record import stores
from reprocess.record.cases import Case
from reprocess.record.entry import Entry
from reprocess.record.forms import Form
from reprocess.record.lots import Lot
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.recalls import Recall
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.wearers import Wearer
from reprocess.rules import answer as answers
from reprocess.rules import signing
from reprocess.rules.answer import Answer
from reprocess.rules.asked import Override
from reprocess.rules.scene import Part
from reprocess.scheduling import refresh_all
from reprocess.shared_clock import clock_of
from reprocess.shipped import File, files_in, folder, read_file
from reprocess.station import Call, Desk
from reprocess.terms import StreamKind, stream, subject_of

Subject = TypeVar("Subject", Solution, Person, Instrument, Recall, Wearer, Case, Lot, stores.Place)


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

    def ask(
        self, request: Request, *, override: Override | None = None, shown: str | None = None, key: str | None = None
    ) -> Answer:
        """Returns the answer to any request.

        Args:
            request: what is asked.
            override: the one rule that is to be passed over, with its reason.
            shown: the digest of what was shown to whoever signs; the request is refused where that changed since.
            key: the request's key.
        """
        own = key or self.department.clock.new_id()
        call = Call(request, self.station, self.badge, self.second, own, override=override, shown=shown)
        return self.department.desk.take(call)

    def enrol(self, request: EnrolRequest, *, shown: str | None = None, key: str | None = None) -> Answer:
        """Returns the answer to an enrolment: a person, an item, an instrument, a file."""
        own = key or self.department.clock.new_id()
        call = enrolment.EnrolCall(request, self.station, self.badge, self.second, own, shown)
        desk = self.department.desk
        return enrolment.take(desk.ledger, desk.library, desk.clock, call)

    def reveal(self, request: Request, *, key: str | None = None) -> tuple[Answer, dict[str, Name]]:
        """Returns the answer to a request for names, and the names by pseudonym; that they were shown is on record."""
        call = Call(request, self.station, self.badge, self.second, key or self.department.clock.new_id())
        return self.department.desk.reveal(call)

    def register(self, name: Name, unit: str, *, wearer: str | None = None, key: str | None = None) -> Answer:
        """Returns the answer to the registration of a wearer, whose pseudonym is the answer's subject.

        Args:
            name: who it is; it is kept beside the record and stands in no entry.
            unit: where the wearer works.
            wearer: the pseudonym of a wearer who comes back; a new one is made where absent.
            key: the request's key; the same key means the same pseudonym.
        """
        own = key or self.department.clock.new_id()
        before = self.department.subject_of_key(own)
        pseudonym = wearer or (subject_of(before) if before is not None else pseudonym_from(self.department.clock))
        request = asking.RegisterWearer(pseudonym, unit)
        call = Call(request, self.station, self.badge, self.second, own, personal=name)
        return self.department.desk.take(call)

    def keep_file(self, content: bytes, about: str, name: str, media_type: str, *, key: str | None = None) -> Answer:
        """Keeps a file beside the record and returns the answer to the entry that names it; see `ledger.files`.

        Args:
            content: its bytes.
            about: the stream it is about, such as `case:QAW-1-12`.
            name: what it is called; nobody's name should stand in it.
            media_type: such as `image/jpeg`.
            key: the request's key.
        """
        digest = files.keep_file(self.department.ledger, content)
        return self.ask(asking.KeepFile(about, digest, name, media_type, len(content)), key=key)

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

    def wearer(self, wearer: str) -> Wearer:
        """Returns where a wearer stands, by pseudonym; who it is, only `Bench.reveal` tells.

        Raises:
            UnknownSubjectError: no such wearer is on record.
        """
        return self._known(StreamKind.WEARER, wearer, Wearer)

    def wearer_of_badge(self, badge: str) -> str | None:
        """Returns the pseudonym that a wearer's badge means, or None."""
        with append.looking(self.ledger) as read:
            return read.names.wearer_of(badge)

    def case(self, case: str) -> Case:
        """Returns where an exposure case stands; whoever shows it asks with `ReadCase` first.

        Raises:
            UnknownSubjectError: no such case is on record.
        """
        return self._known(StreamKind.CASE, case, Case)

    def cases(self) -> list[Case]:
        """Returns every exposure case, by id."""
        with append.looking(self.ledger) as read:
            return [one for one in read.states_of(StreamKind.CASE) if isinstance(one, Case)]

    def kept(self) -> list[Kept]:
        """Returns what is kept for how long, and how much of it is past its period (D12)."""
        with append.looking(self.ledger) as read:
            return kept(read, self.library, self.clock.now().wall_us)

    def subject_of_key(self, key: str) -> str | None:
        """Returns the stream that the answer to a request's key is about, or None where the key is new."""
        with append.looking(self.ledger) as read:
            before = read.answered(key)
        return answers.from_text(before.answer).subject if before is not None else None

    def recall(self, recall: str) -> Recall:
        """Returns where a recall stands.

        Raises:
            UnknownSubjectError: no such recall is on record.
        """
        return self._known(StreamKind.RECALL, recall, Recall)

    def as_of(self, item: str, at_us: int) -> Standing:
        """Returns where an item stood at a past instant, from the entries that were on record by then.

        Raises:
            UnknownSubjectError: the item was not on record yet.
        """
        with append.looking(self.ledger) as read:
            standing = standing_at(read, item, read.touches.last_feed_at(at_us))
        if not standing.known:
            message = f"{item} was not on record then."
            raise UnknownSubjectError(message, item=item)
        return standing

    def part_as_of(self, item: str, at_us: int) -> Part | None:
        """Returns an item as it stood at a past instant, with the workflow of its cycle and the one in force now.

        Raises:
            UnknownSubjectError: the item was not on record yet.
        """
        standing = self.as_of(item, at_us)
        with append.looking(self.ledger) as read:
            return part_of(read, self.library, standing)

    def lookback(
        self,
        sort: str,
        name: str,
        *,
        from_us: int | None = None,
        until_us: int | None = None,
        as_of_us: int | None = None,
    ) -> Lookback:
        """Returns what touched something and who wore it: `lookback("solution", "LMG-B2")`, `("item", "BLW-0041")`.

        Whoever shows what is found about a case or a wearer asks with `ReadCase` or `TraceWearer` first.

        Args:
            sort: item, case, wearer, or what items touch: solution, load, lot, instrument, person, model, ...
            name: which one; wearers are pseudonyms.
            from_us: only from that instant on.
            until_us: only until that instant.
            as_of_us: as the record stood at that instant; None for now.

        Raises:
            UnknownSubjectError: the item or case is not on record.
            WrongUseError: nothing can be looked back by that.
        """
        with append.looking(self.ledger) as read:
            return look(read, Asked(sort, name, from_us, until_us), as_of_us=as_of_us)

    def recall_preview(
        self,
        sort: str,
        name: str,
        *,
        from_us: int | None = None,
        until_us: int | None = None,
        items: Sequence[str] = (),
    ) -> tuple[str, ...]:
        """Returns the items that a recall would hold, by id; nothing is written.

        Raises:
            WrongUseError: nothing can be recalled by that.
        """
        with append.looking(self.ledger) as read:
            found = reached(read, Asked(sort, name, from_us, until_us, tuple(items)))
            return tuple(in_service(parts_of(read, self.library, found.items)))

    def recalled(self, recall: str, *, as_of_us: int | None = None) -> list[Place]:
        """Returns every item that a recall held and where it is, the ones not located first."""
        with append.looking(self.ledger) as read:
            feed = LAST if as_of_us is None else read.touches.last_feed_at(as_of_us)
            return places(read, recall, feed)

    def form(self, form: str) -> Form:
        """Returns where a numbered form stands; one that was never entered stands at its start."""
        with append.looking(self.ledger) as read:
            return state_as(read, stream(StreamKind.FORM, form), Form)

    def lot(self, lot: str) -> Lot:
        """Returns a lot, or one that is recalled before it ever came in.

        Raises:
            UnknownSubjectError: no such lot is on record.
        """
        return self._known(StreamKind.LOT, lot, Lot)

    def place(self, place: str) -> stores.Place:
        """Returns a place.

        Raises:
            UnknownSubjectError: no such place is on record.
        """
        return self._known(StreamKind.PLACE, place, stores.Place)

    def items_at(self, place: str) -> list[Standing]:
        """Returns the items that lie at a place now, by id."""
        with append.looking(self.ledger) as read:
            return [read.item(name) for name in items_at(read, place)]

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
        """Tells whether any file in force holds example numbers or unconfirmed sources; every output then says so."""
        return bool(self.missing_to_live())

    def missing_to_live(self) -> tuple[Missing, ...]:
        """Returns what is missing until the department works on confirmed sources only, file by file (trade 8.3)."""
        with append.looking(self.ledger) as read:
            files_ = [one for one in read.states_of(StreamKind.WORKFLOW) if isinstance(one, Published)]
            return missing(files_, read.examples())

    def published(self, sort: str, name: str) -> Published:
        """Returns where a file stands: which text is in force, proposed and confirmed."""
        with append.looking(self.ledger) as read:
            return state_as(read, published_stream(sort, name), Published)

    def waiting_for_review(self) -> tuple[list[Waiting], list[Refusals]]:
        """Returns (what is unusual and waits, oldest first; the refusals since somebody last looked, counted)."""
        with append.looking(self.ledger) as read:
            return read.reviews.waiting(), read.reviews.refusals()

    def entry(self, feed: int) -> Entry:
        """Returns the entry of that number in the whole record.

        Raises:
            UnknownSubjectError: there is none.
        """
        with append.looking(self.ledger) as read:
            found = read.entry(feed)
        if found is None:
            message = f"There is no entry {feed}."
            raise UnknownSubjectError(message, feed=feed)
        return found

    def entries_after(self, feed: int, most: int) -> list[Sealed]:
        """Returns the entries of the whole record that follow one of them, oldest first, at most that many."""
        with append.looking(self.ledger) as read:
            return read.feed.after(feed, most)

    def last_feed(self) -> int:
        """Returns the number of the latest entry."""
        with append.looking(self.ledger) as read:
            return read.feed.last()

    def shown(self, subject: str) -> tuple[str, str]:
        """Returns (what is shown of a subject to whoever signs, its digest)."""
        with append.looking(self.ledger) as read:
            text = signing.shown_text(subject, read.state(subject))
        return text, signing.digest_of(text)

    def stations(self) -> list[Station]:
        """Returns every station, by id."""
        with append.looking(self.ledger) as read:
            found = read.states_of(StreamKind.STATION)
        return [one for one in found if isinstance(one, Station) and one.title]

    def verify(self, *, full: bool = False) -> verify.Report:
        """Returns what verification of the record finds."""
        refresh = partial(refresh_all, library=self.library) if full else None
        return verify.verify(self.ledger, full=full, refresh=refresh)


def pseudonym_from(clock: Clock) -> str:
    """Returns a new pseudonym that can be scanned, such as `W-8F3A09C2B1D47E60`: the 62 bits of chance of a new id."""
    return f"W-{clock.new_id().replace('-', '')[-PSEUDONYM_DIGITS:].upper()}"


PSEUDONYM_DIGITS: Final = 16
"""Hexadecimal digits of a pseudonym: the part of a UUID version 7 without its time (RFC 9562, section 5.7)."""


def open_department(path: str | Path | Server = "department.db", *, clock: Clock | None = None) -> Department:
    """Returns an existing department, to work in and to look into; a demo goes on with its own clock.

    Args:
        path: its file, or its place on a PostgreSQL server; an address alone means the key file `<database>.key`.
        clock: another clock than the computer's.

    Raises:
        LedgerError: there is none, or it cannot be used safely.
    """
    place = place_of(path)
    kept = clock or clock_for(beside(place))
    return _department(open_ledger(place), None if isinstance(kept, SystemClock) else kept)


def place_of(path: str | Path | Server) -> Path | Server:
    """Returns where a department is: a file, or a server where it is named by an address.

    Raises:
        WrongUseError: it is an address that cannot be read, or that holds a password.
    """
    if isinstance(path, str) and is_address(path):
        return Server(path, key_file=Path(f"{database_of(path)}.key"))
    return path if isinstance(path, Server) else Path(path)


def beside(place: Path | Server) -> Path:
    """Returns the name beside which this computer keeps what does not lie in the database."""
    return place.beside if isinstance(place, Server) else place


def found_department(
    path: str | Path | Server,
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
    place = place_of(path)
    ledger = create_ledger(place, connect=connect)
    department = _department(ledger, clock)
    try:
        enrolment.found(ledger, department.library, department.clock, read, texts)
    except BaseException:
        ledger.close()
        with suppress(LedgerError):
            remove(place)
        raise
    return department


def _department(ledger: Ledger, clock: Clock | None) -> Department:
    own = clock or clock_of(ledger, SystemClock())
    library = Library()
    return Department(ledger, own, Desk(ledger, library, own), library)


__all__ = [
    "Bench",
    "Department",
    "Server",
    "beside",
    "database_of",
    "found_department",
    "is_address",
    "local",
    "open_department",
    "place_of",
    "read_file",
]
