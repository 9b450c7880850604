"""Every projection made anew from the entries alone, in a scratch database, and how it differs from what is kept.

Both `rebuild` and `verify` stand on it. The entries are read stream by stream, so that memory is bounded by the
longest stream of an item; the scratch database is a temporary file that SQLite removes when it is closed.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

from sqlalchemy import Table

from reprocess.errors import DamagedEntryError
from reprocess.ledger import reviews, touches
from reprocess.ledger import statements as sql
from reprocess.ledger.append import (
    FEED_KINDS,
    Transaction,
    project_feed,
    standing_row,
)
from reprocess.ledger.driver import Cursor, each
from reprocess.ledger.rendering import make
from reprocess.ledger.tables import BADGE, DEFINITION, DUE, ESCALATED, PROJECTIONS, RANG, REVIEW, STANDING, TOUCH
from reprocess.record import states
from reprocess.record.entry import Entry
from reprocess.record.folding import fold
from reprocess.record.form import COLUMNS, read_row
from reprocess.record.touching import in_cycles, not_undone
from reprocess.terms import StreamKind, stream, subject_of

Refresh = Callable[[Transaction], None]
"""Computes every due row from the standings that it finds; it sees projections, never entries."""
EachItem = Callable[[list[Entry]], None]
"""Is shown the entries of each item, oldest first."""

STREAM: Final = COLUMNS.index("stream")
HASHED: Final = len(COLUMNS)
"""Where the digest stands in a stored row."""

_INSERT_STANDING: Final = f"INSERT INTO standing VALUES ({', '.join('?' * len(STANDING.c))})"  # noqa: S608
_BY_STREAM: Final = f"{sql.SELECT_ENTRY} ORDER BY stream, number"
_KINDS: Final = ", ".join("?" * len(FEED_KINDS))
_BY_FEED: Final = f"{sql.SELECT_ENTRY} WHERE kind IN ({_KINDS}) OR {reviews.SOME} ORDER BY feed"


@contextmanager
def scratch() -> Iterator[Cursor]:
    """Yields a cursor of a temporary database that has the projections' tables, all empty."""
    connection = sqlite3.connect("", isolation_level=None)
    try:
        cursor = connection.cursor()
        cursor.execute("PRAGMA synchronous = OFF")
        cursor.execute("BEGIN")
        make(cursor, PROJECTIONS)
        yield cursor
    finally:
        connection.close()


def fill(
    entries: Cursor,
    anew: Cursor,
    *,
    refresh: Refresh | None = None,
    each_item: EachItem | None = None,
) -> None:
    """Makes every projection anew from the entries; what is due only with `refresh`.

    Raises:
        DamagedEntryError: an entry cannot be read, or its stream is of an unknown kind.
    """
    for row in each(entries, _BY_FEED, FEED_KINDS):
        project_feed(anew, read_row(row[:HASHED]))
    for name, rows in groupby(each(entries, _BY_STREAM), key=lambda row: str(row[STREAM])):
        if name.startswith(f"{StreamKind.ITEM}:"):
            _item(anew, name, rows, each_item)
        else:
            _other(anew, name, rows)
    if refresh is not None:
        refresh(Transaction(anew))


def _item(anew: Cursor, name: str, rows: Iterable[Any], each_item: EachItem | None) -> None:
    entries = []
    head = b""
    for row in rows:
        entries.append(read_row(row[:HASHED]))
        head = row[HASHED]
    last = entries[-1]
    standing = fold(subject_of(name), entries)
    anew.execute(_INSERT_STANDING, standing_row(name, last.number, head, last.at_us, standing))
    for entry, cycle in in_cycles(not_undone(entries)):
        touches.project(anew, entry, cycle)
    if each_item is not None:
        each_item(entries)


def _other(anew: Cursor, name: str, rows: Iterator[Any]) -> None:
    row = next(rows)
    apply = _folding(name, row[0]).apply
    state = states.start_of(name)
    entry = read_row(row[:HASHED])
    state = apply(state, entry)
    for row in rows:
        entry = read_row(row[:HASHED])
        state = apply(state, entry)
    anew.execute(_INSERT_STANDING, standing_row(name, entry.number, row[HASHED], entry.at_us, state))


def _folding(name: str, feed: int) -> states.Folding:
    try:
        return states.folding_of(name)
    except KeyError as fault:
        message = f"Entry {feed} is in the stream {name}, a kind that this program does not know."
        raise DamagedEntryError(message, feed=feed, stream=name) from fault


@dataclass(frozen=True, slots=True)
class Difference:
    """Is one row of a projection that is not what the entries come to.

    Attributes:
        table: the projection.
        subject: the stream concerned, or the badge, digest or reminder where the row belongs to none.
        what: was missing, was left over, or in which columns it differs.
    """

    table: str
    subject: str
    what: str


@dataclass(frozen=True, slots=True)
class Row:
    """Is a difference with the row that should be kept instead, or None where there should be none."""

    difference: Difference
    table: Table
    keys: tuple[Any, ...]
    wanted: tuple[Any, ...] | None


def differing(kept: Cursor, anew: Cursor, tables: Iterable[Table] = PROJECTIONS) -> Iterator[Row]:
    """Yields every row in which what is kept differs from what was made anew, table by table.

    A row may be put right as soon as it was yielded.
    """
    for table in tables:
        yield from _wanted(kept, anew, table)
        yield from _left_over(kept, anew, table)


def _wanted(kept: Cursor, anew: Cursor, table: Table) -> Iterator[Row]:
    names = [column.name for column in table.c]
    held = _by_key(table)
    for row in anew.execute(f"SELECT {', '.join(names)} FROM {table.name}"):  # noqa: S608
        keys = row[: len(table.primary_key.columns)]
        found = kept.execute(held, keys).fetchone()
        if found == row:
            continue
        different = [name for name, old, new in zip(names, found or (), row, strict=False) if old != new]
        what = f"differs in {', '.join(different)}" if found is not None else "was missing"
        yield Row(Difference(table.name, _subject(table, row), what), table, keys, row)


def _left_over(kept: Cursor, anew: Cursor, table: Table) -> Iterator[Row]:
    total = f"SELECT count(*) FROM {table.name}"  # noqa: S608
    if kept.execute(total).fetchone() == anew.execute(total).fetchone():
        return
    names = ", ".join(column.name for column in table.c)
    held = _by_key(table)
    extra = [
        row
        for row in each(kept, f"SELECT {names} FROM {table.name}")  # noqa: S608
        if anew.execute(held, row[: len(table.primary_key.columns)]).fetchone() is None
    ]
    for row in extra:
        keys = row[: len(table.primary_key.columns)]
        yield Row(Difference(table.name, _subject(table, row), "was left over"), table, keys, None)


def _by_key(table: Table) -> str:
    names = ", ".join(column.name for column in table.c)
    where = " AND ".join(f"{column.name} = ?" for column in table.primary_key.columns)
    return f"SELECT {names} FROM {table.name} WHERE {where}"  # noqa: S608


def _subject(table: Table, row: tuple[Any, ...]) -> str:
    if table is TOUCH:
        return stream(StreamKind.ITEM, str(row[0]))
    if table in (DUE, REVIEW):
        return str(row[1])
    return str(row[0])


def put_right(kept: Cursor, one: Row) -> None:
    """Makes one row of a projection what the entries come to."""
    where = " AND ".join(f"{column.name} = ?" for column in one.table.primary_key.columns)
    kept.execute(f"DELETE FROM {one.table.name} WHERE {where}", one.keys)  # noqa: S608
    if one.wanted is not None:
        names = ", ".join(column.name for column in one.table.c)
        places = ", ".join("?" * len(one.wanted))
        kept.execute(f"INSERT INTO {one.table.name} ({names}) VALUES ({places})", one.wanted)  # noqa: S608


WITHOUT_DUE: Final = (STANDING, TOUCH, BADGE, DEFINITION, RANG, ESCALATED, REVIEW)
"""What can be compared without knowing how due times are computed."""
