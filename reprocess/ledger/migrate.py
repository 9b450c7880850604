"""Numbered migrations: each runs once, whole, inside the transaction that opens the ledger.

A new column or table is a new function at the end of `MIGRATIONS`; old ones are never edited. Entries are never
rewritten by a migration: old bodies are read as they stand (record/form.py).
"""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable
from typing import Final

from sqlalchemy.dialects import sqlite
from sqlalchemy.schema import CreateIndex, CreateTable

from reprocess.errors import LedgerError, LedgerVersionError
from reprocess.ledger.tables import METADATA, TRIGGERS


def _first(cursor: sqlite3.Cursor) -> None:
    dialect = sqlite.dialect()
    for table in METADATA.sorted_tables:
        cursor.execute(str(CreateTable(table).compile(dialect=dialect)))
        for index in sorted(table.indexes, key=lambda one: str(one.name)):
            cursor.execute(str(CreateIndex(index).compile(dialect=dialect)))
    for trigger in TRIGGERS:
        cursor.execute(trigger)
    cursor.execute("INSERT INTO about (name, value) VALUES ('ledger', ?)", (secrets.token_hex(16),))


MIGRATIONS: Final[tuple[Callable[[sqlite3.Cursor], None], ...]] = (_first,)
"""The schema's history; the schema number is how many of these have run."""


def to_current(cursor: sqlite3.Cursor, *, fresh: bool) -> None:
    """Brings the schema to this program's number, inside the caller's transaction.

    Raises:
        LedgerVersionError: the schema is newer than this program.
        LedgerError: the file is not a ledger.
    """
    number = 0 if fresh else schema_number(cursor)
    if number > len(MIGRATIONS):
        message = (
            f"The database has schema {number}, this program knows {len(MIGRATIONS)}; use the newer program. "
            "Nothing was changed."
        )
        raise LedgerVersionError(message, schema=number)
    if number == len(MIGRATIONS):
        return
    for migration in MIGRATIONS[number:]:
        migration(cursor)
    cursor.execute(
        "INSERT INTO about (name, value) VALUES ('schema', ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (str(len(MIGRATIONS)),),
    )


def schema_number(cursor: sqlite3.Cursor) -> int:
    """Returns the schema number of an existing database.

    Raises:
        LedgerError: the file holds no ledger.
    """
    try:
        row = cursor.execute("SELECT value FROM about WHERE name = 'schema'").fetchone()
    except sqlite3.OperationalError as fault:
        message = "The file is not a department's record."
        raise LedgerError(message) from fault
    return int(row[0]) if row is not None else 0
