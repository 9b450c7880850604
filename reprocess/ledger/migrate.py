"""Numbered migrations: each runs once, whole, inside the transaction that opens the ledger.

A new column or table is a new function at the end of `MIGRATIONS`; old ones are never edited. Entries are never
rewritten by a migration: old bodies are read as they stand (record/form.py).
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from typing import Final

from reprocess.errors import LedgerVersionError
from reprocess.ledger import reviews, touches
from reprocess.ledger import statements as sql
from reprocess.ledger.driver import Cursor, is_missing
from reprocess.ledger.rendering import make, make_indexes
from reprocess.ledger.tables import (
    ABOUT,
    BADGE,
    BEACON,
    CLAIM,
    CREDENTIAL,
    DEFINITION,
    DELIVERY,
    DUE,
    ENTRY,
    ESCALATED,
    POST,
    RANG,
    REVIEW,
    SESSION,
    STANDING,
    SUBSCRIPTION_SECRET,
    TOKEN_DIGEST,
    TOUCH,
    TRIGGERS,
    WEARER_NAME,
)
from reprocess.record.form import COLUMNS, read_row
from reprocess.record.touching import in_cycles, not_undone

FIRST_TABLES: Final = (ENTRY, STANDING, BADGE, DEFINITION, DUE, RANG, CLAIM, ABOUT)


def _first(cursor: Cursor) -> None:
    make(cursor, FIRST_TABLES)
    for trigger in TRIGGERS:
        cursor.execute(trigger)
    _name_it(cursor)


def _touches(cursor: Cursor) -> None:
    """Makes one table of intervals of what was one of contacts, and fills it from the entries."""
    cursor.execute("DROP TABLE IF EXISTS contact")
    make_indexes(cursor, ENTRY)
    make(cursor, (TOUCH,))
    _fill_touches(cursor)


def _fill_touches(cursor: Cursor) -> None:
    reading = cursor.connection.cursor()
    items = reading.execute("SELECT DISTINCT stream FROM entry WHERE stream LIKE 'item:%' ORDER BY stream").fetchall()
    for (name,) in items:
        rows = reading.execute(sql.STREAM_ENTRIES, (name,)).fetchall()
        for entry, cycle in in_cycles(not_undone([read_row(row[: len(COLUMNS)]) for row in rows])):
            touches.project(cursor, entry, cycle)


def _chains(cursor: Cursor) -> None:
    """Makes room for several levels of a reminder's chain, and for what is handed to channels outside."""
    make(cursor, (ESCALATED, POST))
    cursor.execute("INSERT INTO escalated SELECT key, 1, escalated_us FROM rang WHERE escalated_us IS NOT NULL")


def _names(cursor: Cursor) -> None:
    """Makes the table that says whose pseudonyms they are."""
    make(cursor, (WEARER_NAME,))


def _reviews(cursor: Cursor) -> None:
    """Makes the supervisor's queue, and fills it from the entries."""
    make(cursor, (REVIEW,))
    reading = cursor.connection.cursor()
    kinds = ", ".join("?" * len(reviews.KINDS))
    unusual = f"{sql.SELECT_ENTRY} WHERE kind IN ({kinds}) OR {reviews.SOME} ORDER BY feed"
    for row in reading.execute(unusual, reviews.KINDS).fetchall():
        reviews.project(cursor, read_row(row[: len(COLUMNS)]))


def _rewritings(cursor: Cursor) -> None:
    """Makes the index of what changes earlier touches, and the touches anew: they tell more than they did."""
    make_indexes(cursor, ENTRY)
    cursor.execute("DELETE FROM touch")
    _fill_touches(cursor)


def _deliveries(cursor: Cursor) -> None:
    """Makes the tables of what subscribers are handed, and of what signs it."""
    make(cursor, (DELIVERY, SUBSCRIPTION_SECRET))


def _sign_ins(cursor: Cursor) -> None:
    """Makes the tables of what lets people and programs in, and the index by which failed tries are counted."""
    make_indexes(cursor, ENTRY)
    make(cursor, (CREDENTIAL, SESSION, TOKEN_DIGEST))


def _beacons(cursor: Cursor) -> None:
    """Makes the table of what each computer last saw of a shared clock."""
    make(cursor, (BEACON,))


Migration = Callable[[Cursor], None]

MIGRATIONS: Final[tuple[Migration, ...]] = (
    _first,
    _touches,
    _chains,
    _names,
    _reviews,
    _rewritings,
    _deliveries,
    _sign_ins,
    _beacons,
)
"""The schema's history; the schema number is how many of these have run."""


def to_current(cursor: Cursor, *, fresh: bool, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Brings the schema to this program's number, inside the caller's transaction.

    Args:
        cursor: inside BEGIN IMMEDIATE; another process may have migrated while this one waited for it.
        fresh: whether the database was made just now and holds nothing yet.
        migrations: the schema's history.

    Raises:
        LedgerVersionError: the schema is newer than this program, or the file is not a ledger.
    """
    number = 0 if fresh else schema_number(cursor)
    if number > len(migrations):
        message = (
            f"The database has schema {number}, this program knows {len(migrations)}; use the newer program. "
            "Nothing was changed."
        )
        raise LedgerVersionError(message, schema=number)
    if number == len(migrations):
        return
    for migration in migrations[number:]:
        migration(cursor)
    _say_schema(cursor, len(migrations))


def begin(cursor: Cursor) -> None:
    """Says what a database is whose tables were made as they are now, without any history."""
    _name_it(cursor)
    _say_schema(cursor, len(MIGRATIONS))


def _name_it(cursor: Cursor) -> None:
    cursor.execute("INSERT INTO about (name, value) VALUES ('ledger', ?)", (secrets.token_hex(16),))


def _say_schema(cursor: Cursor, number: int) -> None:
    cursor.execute(
        "INSERT INTO about (name, value) VALUES ('schema', ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (str(number),),
    )


def schema_number(cursor: Cursor) -> int:
    """Returns the schema number of an existing database.

    Raises:
        LedgerVersionError: the file holds no ledger.
    """
    try:
        row = cursor.execute("SELECT value FROM about WHERE name = 'schema'").fetchone()
    except Exception as fault:
        if not is_missing(fault):
            raise
        raise LedgerVersionError(NOT_OURS) from fault
    if row is None or not str(row[0]).isdecimal():
        raise LedgerVersionError(NOT_OURS)
    return int(row[0])


NOT_OURS: Final = (
    "The file is not a department's record, it is damaged, or its founding was not finished. Nothing was changed."
)
