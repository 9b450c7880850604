"""What the ledger asks of a database driver's cursor, and where the two databases need different words.

Statements are written once, with `?` and `:name` parameters, as SQLite's driver takes them; its cursor is used as it
is. The PostgreSQL cursor (ledger/postgres.py) translates each text once.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Generator, Iterable, Iterator, Sequence
from typing import Any, Final, Protocol, Self

import orjson

from reprocess.ledger.sites import limit_file


class Cursor(Protocol):
    """Is the driver's cursor; `connection` makes another one in the same transaction."""

    @property
    def connection(self) -> Any:
        """Returns the connection that the cursor works on."""
        ...

    @property
    def rowcount(self) -> int:
        """Returns how many rows the last statement changed."""
        ...

    def execute(self, text: str, parameters: Any = ..., /) -> Self:
        """Runs one statement."""
        ...

    def executemany(self, text: str, parameters: Iterable[Any], /) -> Self:
        """Runs one statement for each set of parameters."""
        ...

    def fetchone(self) -> Any:
        """Returns the next row, or None."""
        ...

    def fetchall(self) -> list[Any]:
        """Returns the remaining rows."""
        ...

    def __iter__(self) -> Iterator[Any]: ...

    def close(self) -> None:
        """Ends the cursor."""
        ...


POSTGRES: Final[dict[str, str]] = {}
"""The statements that PostgreSQL needs in other words, by the text that SQLite takes."""
STREAMED_AT_ONCE: Final = 512
"""Rows that are fetched at once where all entries are walked over (our choice)."""
LAST_ROW: Final = 2**63 - 1
"""A LIMIT that limits nothing; PostgreSQL takes no negative one."""


def differs(text: str, postgres: str) -> str:
    """Returns a statement as SQLite takes it, and keeps the one that means the same to PostgreSQL."""
    POSTGRES[text] = postgres
    return text


def among(text: str) -> str:
    """Returns a question about one name as one about several, which SQLite takes as one JSON text."""
    return differs(f"{text} IN (SELECT value FROM json_each(?))", f"{text} = ANY (?)")  # noqa: S608


def is_sqlite(cursor: Cursor) -> bool:
    """Tells whether a cursor is one of SQLite's, or one that holds what it writes there."""
    return isinstance(cursor, sqlite3.Cursor) or getattr(cursor, "of_file", False)


def is_missing(fault: Exception) -> bool:
    """Tells whether a fault says that there is no such table."""
    return "no such" in str(fault) if isinstance(fault, sqlite3.Error) else type(fault).__name__ == "UndefinedTable"


def each(cursor: Cursor, text: str, parameters: Any = ()) -> Generator[Any]:
    """Yields the rows of a long answer bit by bit, so that memory stays bounded; other statements may run meanwhile."""
    reading: Cursor = cursor.connection.cursor() if is_sqlite(cursor) else cursor.connection.portioned()
    try:
        yield from reading.execute(text, parameters)
    finally:
        reading.close()


def make_room(cursor: Cursor, at_us: int) -> None:
    """Makes sure that there is a place for entries of an instant: on PostgreSQL each month has a table of its own."""
    if not is_sqlite(cursor):
        cursor.connection.make_room(cursor, at_us)


def limit(cursor: Cursor, sites: Collection[str]) -> None:
    """Shows the rest of one transaction the rows of these sites alone (ledger/sites.py)."""
    if is_sqlite(cursor):
        limit_file(cursor, sites)
    else:
        cursor.connection.limit(cursor, sites)


def ask_together(cursor: Cursor, questions: Sequence[tuple[str, list[str], tuple[object, ...]]]) -> list[list[Any]]:
    """Returns the rows of questions about several names each, which a server is asked in one message.

    Args:
        cursor: of a writing transaction.
        questions: each statement with the names that it is about, and with what else it takes.
    """
    if is_sqlite(cursor):
        asked = ((text, (orjson.dumps(names).decode(), *more)) for text, names, more in questions)
        return [cursor.execute(text, given).fetchall() for text, given in asked]
    found: list[list[Any]] = cursor.connection.ask_together(questions)
    return found


def take_time(cursor: Cursor) -> None:
    """Lifts the deadlines of one transaction, for work that is as long as the record."""
    if not is_sqlite(cursor):
        cursor.connection.take_time(cursor)


def stand_of(cursor: Cursor) -> tuple[object, int | None]:
    """Returns what changes when anybody else commits, and the last feed number where that is known for nothing.

    Called at the beginning of a writing transaction, when nobody else can commit.
    """
    if is_sqlite(cursor):
        return int(cursor.execute("PRAGMA data_version").fetchone()[0]), None
    version, last = cursor.connection.head
    return (cursor.connection.life, version), last
