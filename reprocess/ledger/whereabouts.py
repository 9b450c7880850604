"""Where a record is: here, on its way here, or moved elsewhere; only a record that is here can be opened.

A move (ledger/move.py) touches two databases, which cannot commit as one. So the target says "arriving" with its copy,
then the source says "moved", then the target says nothing any more: at no instant can both be opened, and whatever
breaks off in between, the same command goes on.
"""

from __future__ import annotations

from typing import Final

from reprocess.errors import LedgerMovedError
from reprocess.ledger.driver import Cursor

_KEEP: Final = "INSERT INTO about (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value"
_OF: Final = "SELECT value FROM about WHERE name = ?"
_FORGET: Final = "DELETE FROM about WHERE name = ?"
MOVED: Final = "moved"
ARRIVING: Final = "arriving"

NOTHING_MORE: Final = """CREATE TRIGGER IF NOT EXISTS entry_stays BEFORE INSERT ON entry
    BEGIN SELECT RAISE(ABORT, 'this department was moved to another database'); END"""
"""Refuses an entry of whoever opened the file before it was moved."""


def must_be_here(cursor: Cursor, name: str) -> None:
    """Raises where a record cannot be opened because it is elsewhere, or not all here.

    Raises:
        LedgerMovedError: it was moved, or its move into this database is not finished.
    """
    moved = told(cursor, MOVED)
    if moved is not None:
        message = f"{name} was moved to {moved}. Open it there: set the department's address."
        raise LedgerMovedError(message, to=moved)
    if told(cursor, ARRIVING) is not None:
        message = f"The move into {name} is not finished. Give the same `reprocess move` again."
        raise LedgerMovedError(message)


def told(cursor: Cursor, name: str) -> str | None:
    """Returns what the database says about itself under a name, or None."""
    row = cursor.execute(_OF, (name,)).fetchone()
    return None if row is None else str(row[0])


def say(cursor: Cursor, name: str, value: str) -> None:
    """Lets the database say something about itself."""
    cursor.execute(_KEEP, (name, value))


def say_no_more(cursor: Cursor, name: str) -> None:
    """Lets the database say it no more."""
    cursor.execute(_FORGET, (name,))


def leave(cursor: Cursor, address: str) -> None:
    """Marks a file as moved and lets nobody write another entry into it; whoever commits this has moved."""
    say(cursor, MOVED, address)
    cursor.execute(NOTHING_MORE)
