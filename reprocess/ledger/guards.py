"""What the database itself must hold besides rows: tables, indexes, and the triggers that refuse changes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from reprocess.errors import LedgerUnsafeError
from reprocess.ledger.driver import Cursor, differs, is_sqlite
from reprocess.ledger.rendering import index_text, table_text
from reprocess.ledger.server_schema import guards_gone
from reprocess.ledger.tables import METADATA, PROJECTIONS, TRIGGERS

_MADE: Final = differs(
    "SELECT name, sql FROM sqlite_master",
    "SELECT relname, NULL FROM pg_class WHERE relnamespace = current_schema()::regnamespace",
)


@dataclass(frozen=True, slots=True)
class Gone:
    """Is one part of the schema that is not there, or is not as this program makes it."""

    name: str
    sentence: str


def trigger_name(text: str) -> str:
    """Returns the name that a CREATE TRIGGER statement gives."""
    return text.split(maxsplit=3)[2]


_TRIGGERS: Final = {trigger_name(text): text for text in TRIGGERS}


def gone(cursor: Cursor) -> Iterator[Gone]:
    """Yields what is missing of the tables and indexes, and each trigger that is not word for word as it was made."""
    made = dict(cursor.execute(_MADE).fetchall())
    for table in METADATA.sorted_tables:
        if table.name not in made:
            yield Gone(table.name, f"the table {table.name} is missing")
        for index in table.indexes:
            if index.name not in made:
                yield Gone(str(index.name), f"the index {index.name} is missing")
    if not is_sqlite(cursor):
        yield from (Gone("entry", sentence) for sentence in guards_gone(cursor))
        return
    for name, text in _TRIGGERS.items():
        if made.get(name) != text:
            what = "is missing" if name not in made else "was changed"
            yield Gone(name, f"the trigger {name}, which refuses changes of entries, {what}")


def mend(cursor: Cursor) -> list[Gone]:
    """Makes anew what is missing of the projections and of the triggers, and returns what that was.

    The table of entries itself is never made anew: without it there is no record.

    Raises:
        LedgerUnsafeError: on a server, where the owner's role alone may make them.
    """
    if not is_sqlite(cursor):
        _must_be_whole(cursor)
        return []
    mended = []
    for one in list(gone(cursor)):
        if one.name in _TRIGGERS:
            cursor.execute(f"DROP TRIGGER IF EXISTS {one.name}")
            cursor.execute(_TRIGGERS[one.name])
            mended.append(one)
    missing = {one.name for one in gone(cursor)}
    for table in METADATA.sorted_tables:
        if table.name in missing and table in PROJECTIONS:
            cursor.execute(table_text(table))
            mended.append(Gone(table.name, f"the table {table.name} was missing"))
        if table.name in missing and table not in PROJECTIONS:
            continue
        for index in table.indexes:
            if index.name in missing:
                cursor.execute(index_text(index))
                mended.append(Gone(str(index.name), f"the index {index.name} was missing"))
    return mended


def _must_be_whole(cursor: Cursor) -> None:
    lost = next(gone(cursor), None)
    if lost is not None:
        message = f"{lost.sentence[:1].upper()}{lost.sentence[1:]}: the owner's role puts it back. Nothing was rebuilt."
        raise LedgerUnsafeError(message, name=lost.name)
