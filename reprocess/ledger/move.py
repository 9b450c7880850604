"""Moving a department from its file to a PostgreSQL server: every entry byte for byte, under the same key.

Nothing is written into the source but that it was moved, at the very end. Whatever stops a move on its way, the same
command goes on from there: the source can be opened until the copy on the server was found equal, and the server's
only after the source can be opened no more (ledger/whereabouts.py).

Entries keep their numbers, digests and MACs. Names, secrets, PINs, tokens and what still waits to be handed over are
copied as they stand; what follows from the entries is made anew. Who was signed in signs in again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from itertools import groupby, islice
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Table

from reprocess.errors import LedgerBusyError, LedgerError, LedgerMovedError, TamperedError
from reprocess.ledger import erasures, files
from reprocess.ledger import statements as sql
from reprocess.ledger.address import Server
from reprocess.ledger.disk import keep_key, key_path
from reprocess.ledger.driver import Cursor, each, make_room, take_time
from reprocess.ledger.keys import Keys, read_keys, replace_keys
from reprocess.ledger.open import Ledger, closed_on_error, connected, in_our_words, open_ledger, over
from reprocess.ledger.refold import Refresh, fill, scratch
from reprocess.ledger.tables import ABOUT, BEACON, CLAIM, ENTRY, METADATA, PROJECTIONS, SESSION
from reprocess.ledger.verify import verify
from reprocess.ledger.whereabouts import ARRIVING, MOVED, leave, say, say_no_more, told
from reprocess.record import states
from reprocess.record.entry import Entry
from reprocess.record.folding import fold, must_refold
from reprocess.record.form import COLUMNS, read_row
from reprocess.record.states import State
from reprocess.terms import SECOND_US, subject_of

AT_ONCE: Final = 1000
"""Rows that are sent together (our choice)."""
AT_WORK_US: Final = 60 * SECOND_US
"""A bell that said so within this time is at work (it says so every 30 s: reminders/rounds.py)."""
LEFT: Final = (ENTRY, ABOUT, CLAIM, SESSION, BEACON, *PROJECTIONS)
BESIDE: Final[tuple[Table, ...]] = tuple(table for table in METADATA.sorted_tables if table not in LEFT)
"""What is copied as it stands: whatever follows from no entry and is not working on one node alone."""
STREAM, RECORDED = COLUMNS.index("stream"), COLUMNS.index("recorded_us")
HASHED: Final = len(COLUMNS)

Step = Callable[[str], None]
"""Is told the name of each step when it is done; tests stop there."""


@dataclass(frozen=True, slots=True)
class Moved:
    """Is what a move carried, or would carry.

    Attributes:
        files: how many files entries name.
        finished: whether it was moved; False for a trial.
    """

    entries: int
    streams: int
    files: int
    last_us: int | None
    finished: bool


def nobody(step: str) -> None:
    """Is told of a step and does nothing."""
    del step


@dataclass(frozen=True, slots=True)
class Moving:
    """Is one move: from where, to where, and when.

    Attributes:
        source: the open file; see `source_at`.
        place: where it goes.
        refresh: computes what is due.
        now_us: the wall clock, by which a bell at work is noticed.
        done: told of each step.
    """

    source: Ledger
    place: Server
    refresh: Refresh
    now_us: int
    done: Step = nobody

    def try_it(self) -> Moved:
        """Returns what would be moved, once source and target were found fit; nothing is changed.

        Raises:
            LedgerError: it cannot be moved; the sentence says why.
        """
        with self.source.reading() as cursor:
            self._may_leave(cursor)
        found = self._verified(finished=False)
        _must_be_free(self.place, self.source)
        return found

    def go(self) -> Moved:
        """Moves the department and returns what was moved.

        Raises:
            LedgerError: it cannot be moved, or not now; the source is as it was.
            LedgerMovedError: it was moved elsewhere before.
            TamperedError: source or copy do not verify; the source is as it was.
        """
        with self.source.writing() as cursor:
            self._may_leave(cursor)
            gone = told(cursor, MOVED) is not None
            found = self._verified(finished=True)
            self.done("source verified")
            target = self._target(cursor)
            with closing(target):
                if not gone:
                    self._carry(cursor, target)
                _must_be_equal(cursor, target, self.refresh)
                self.done("copy verified")
                if not gone:
                    leave(cursor, self.place.address)
                self._finish(cursor, target)
        return found

    def _finish(self, cursor: sqlite3.Cursor, target: Ledger) -> None:
        """Commits that the source was moved, and only then lets the target be opened."""
        self.source.database.commit(cursor, self.source.path)
        cursor.execute("BEGIN IMMEDIATE")
        self.done("source left")
        with target.writing() as arrived:
            say_no_more(arrived, ARRIVING)
        self.done("arrived")

    def _may_leave(self, cursor: Cursor) -> None:
        elsewhere = told(cursor, MOVED)
        if elsewhere is not None and elsewhere != self.place.address:
            message = f"{self.source.name} was moved to {elsewhere} before."
            raise LedgerMovedError(message, to=elsewhere)
        swept = told(cursor, "swept")
        if swept is not None and elsewhere is None and 0 <= self.now_us - int(swept) < AT_WORK_US:
            message = "`reprocess serve` is at work on this department. Stop it, wait a minute, and move it then."
            raise LedgerBusyError(message)

    def _verified(self, *, finished: bool) -> Moved:
        """Returns what the source holds, once all of it was verified.

        Raises:
            TamperedError: something is not as it was written, or does not follow from the entries.
        """
        report = verify(self.source, full=True, refresh=self.refresh)
        if not report.sound:
            first = report.findings[0]
            message = f"The record does not verify and was not moved: {first.sentence}."
            raise TamperedError(message, feed=first.feed)
        with self.source.reading() as cursor:
            count = len({one.digest for one in files.named(cursor)})
        return Moved(report.entries, report.streams, count, report.last_us, finished)

    def _target(self, cursor: Cursor) -> Ledger:
        """Returns the open target: one that this move began before, or a new, empty one."""
        from reprocess.ledger.postgres import create, take_down  # noqa: PLC0415 - the driver is loaded where needed

        begun = _begun(self.place, self.source)
        if begun is not None:
            _must_arrive(begun, cursor)
            _keep_keys(self.source.keys, self.place)
            return begun
        if _has_tables(self.place):
            take_down(self.place)
        database = create(replace(self.place, key_file=_beside(self.place.key_file)))
        target = over(database, self.place, self.source.ring.latest())
        self.done("tables made")
        with closed_on_error(target):
            _keep_keys(self.source.keys, self.place)
        self.done("key kept")
        return target

    def _carry(self, source: Cursor, target: Ledger) -> None:
        """Copies everything in one transaction of the target; what it holds already is not copied again."""
        for digest in sorted({one.digest for one in files.named(source)}):
            files.keep_file(target, files.read_file(self.source, digest))
        self.done("files kept")
        with scratch() as anew:
            fill(source, anew, refresh=self.refresh)
            _sites(source, anew)
            with target.writing() as cursor:
                take_time(cursor)
                say(cursor, ARRIVING, self.source.name)
                say(cursor, "ledger", told(source, "ledger") or "")
                _entries(source, anew, cursor)
                self.done("entries sent")
                for table in BESIDE:
                    _replace(cursor, table, _rows(source, table))
                for table in PROJECTIONS:
                    _replace(cursor, table, _rows(anew, table))
        erasures.keep(self.place.beside, erasures.listed(erasures.list_path(self.source.path)))
        self.done("copied")


def source_at(path: Path) -> Ledger:
    """Returns the open file of a department that is to be moved, also where it says that it was.

    Raises:
        LedgerError: there is none, or no key beside it.
        LedgerVersionError: it is no department's file.
    """
    if not path.exists():
        message = f"There is no department in {path}."
        raise LedgerError(message, path=str(path))
    try:
        return open_ledger(path)
    except LedgerMovedError:
        return connected(path, read_keys(key_path(path), path.name))


def _beside(key_file: Path) -> Path:
    """Returns a name that no key has: founding makes a new key, a move brings its own."""
    return key_file.with_name(f"{key_file.name}.none")


def _key_fits(place: Server, source: Ledger) -> bool:
    """Tells whether the keys are there already, or those of them that there were when an earlier try broke off.

    Raises:
        LedgerError: others are.
    """
    if not place.key_file.exists():
        return False
    if not source.ring.latest().begin_with(read_keys(place.key_file, place.database)):
        message = f"{place.key_file} holds another record's key; nothing was changed."
        raise LedgerError(message, path=str(place.key_file))
    return True


def _keep_keys(keys: Keys, place: Server) -> None:
    """Keeps the keys where the server's department is worked with, if they are not there yet."""
    if place.key_file.exists():
        if read_keys(place.key_file, place.database) != keys:
            replace_keys(keys, place.key_file)
        return
    try:
        place.key_file.parent.mkdir(parents=True, exist_ok=True)
        keep_key(keys.as_bytes(), place.key_file)
    except OSError as fault:
        raise in_our_words(fault, place.key_file) from fault


def _begun(place: Server, source: Ledger) -> Ledger | None:
    """Returns the target where entries stand in it already, or None where there is none yet."""
    from reprocess.ledger.postgres import opened  # noqa: PLC0415 - as above

    if not _key_fits(place, source) or not _has_tables(place):
        return None
    ledger = over(opened(place), place, source.keys)
    with closed_on_error(ledger), ledger.reading() as cursor:
        last = cursor.execute(sql.LAST_FEED).fetchone()[0]
    if last:
        return ledger
    ledger.close()
    return None


def _has_tables(place: Server) -> bool:
    from reprocess.ledger.postgres import Postgres  # noqa: PLC0415 - as above

    database = Postgres(place.address, place.database, place.password)
    with closing(over(database, place, Keys(()))) as ledger, ledger.cursor() as cursor:
        found = cursor.execute("SELECT to_regclass('about')::text").fetchone()
    return found[0] is not None


def _must_be_free(place: Server, source: Ledger) -> None:
    """Raises where a trial finds a target that the move itself would refuse.

    Raises:
        LedgerError: it holds a record, its key file is another's, or no owner is named.
    """
    begun = _begun(place, source)
    if begun is None:
        if _has_tables(place) and not place.key_file.exists():
            message = f"{place.database} holds a record already; nothing was changed."
            raise LedgerError(message)
        return
    with closing(begun), source.reading() as cursor:
        _must_arrive(begun, cursor)


def _must_arrive(target: Ledger, source: Cursor) -> None:
    """Raises for a target that holds entries and is not what this very move left on its way.

    Raises:
        LedgerError: it is a department of its own.
    """
    with target.reading() as cursor:
        arriving = told(cursor, ARRIVING)
        same = told(cursor, "ledger") == told(source, "ledger")
    if same and (arriving is not None or told(source, MOVED) is not None):
        return
    message = f"{target.name} holds a record already; nothing was changed."
    raise LedgerError(message)


def _sites(source: Cursor, anew: Cursor) -> None:
    """Keeps, for each entry, the site where its stream stood after it; a server keeps that beside the entry."""
    anew.execute("CREATE TABLE after_entry (feed INTEGER PRIMARY KEY, site TEXT)")
    by_stream = each(source, f"{sql.SELECT_ENTRY} ORDER BY stream, number")
    for name, rows in groupby(by_stream, key=lambda row: str(row[STREAM])):
        anew.executemany(
            "INSERT INTO after_entry VALUES (?, ?)", _sites_of(name, (read_row(row[:HASHED]) for row in rows))
        )


def _sites_of(name: str, entries: Iterable[Entry]) -> Iterator[tuple[int, str | None]]:
    folding, state = states.folding_of(name), states.start_of(name)
    so_far: list[Entry] = []
    for entry in entries:
        so_far.append(entry)
        state = fold(subject_of(name), so_far) if must_refold(entry) else folding.apply(state, entry)
        yield entry.feed, _site(state)


def _site(state: State) -> str | None:
    found = getattr(state, "site", None)
    return None if found is None else str(found)


_AFTER: Final = "SELECT site FROM after_entry WHERE feed > ? ORDER BY feed"
_FROM: Final = f"{sql.SELECT_ENTRY} WHERE feed > ? ORDER BY feed"


def _entries(source: Cursor, anew: Cursor, target: Cursor) -> None:
    """Sends every entry that the target does not hold yet, in the order of the feed."""
    last = int(target.execute(sql.LAST_FEED).fetchone()[0])
    rows = zip(each(source, _FROM, (last,)), each(anew, _AFTER, (last,)), strict=True)
    while batch := list(islice(rows, AT_ONCE)):
        for month_us in {row[RECORDED] for row, _ in batch}:
            make_room(target, month_us)
        target.executemany(sql.INSERT_ENTRY_AT, [(*row, *site) for row, site in batch])


def _rows(source: Cursor, table: Table) -> Iterator[Any]:
    names = ", ".join(column.name for column in table.c)
    return each(source, f"SELECT {names} FROM {table.name}")  # noqa: S608


def _replace(target: Cursor, table: Table, rows: Iterator[Any]) -> None:
    """Makes these the rows of a table."""
    names, places = ", ".join(column.name for column in table.c), ", ".join("?" * len(table.c))
    target.execute(f"DELETE FROM {table.name}")  # noqa: S608
    while batch := list(islice(rows, AT_ONCE)):
        target.executemany(f"INSERT INTO {table.name} ({names}) VALUES ({places})", batch)  # noqa: S608


def _must_be_equal(source: Cursor, target: Ledger, refresh: Refresh) -> None:
    """Raises unless the target verifies in full and ends every stream as the source does.

    Raises:
        TamperedError: it does not.
    """
    report = verify(target, full=True, refresh=refresh)
    told_of = report.findings[0].sentence if report.findings else None
    with target.reading() as cursor:
        for count in ("SELECT count(*) FROM entry", sql.LAST_FEED, *(_count(table) for table in BESIDE)):
            ours, theirs = (one.execute(count).fetchone()[0] for one in (source, cursor))
            told_of = told_of or (None if ours == theirs else f"it holds {theirs} rows where the source holds {ours}")
        heads = "SELECT stream, number, head FROM standing ORDER BY stream"
        pairs = zip(each(source, heads), each(cursor, heads), strict=True)
        told_of = told_of or next((f"{ours[0]} ends otherwise" for ours, theirs in pairs if ours != theirs), None)
    if told_of is not None:
        message = f"The copy on {target.name} is not what the source is ({told_of}); the source is as it was."
        raise TamperedError(message)


def _count(table: Table) -> str:
    return f"SELECT count(*) FROM {table.name}"  # noqa: S608
