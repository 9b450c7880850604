"""What the database itself must hold besides rows: tables, indexes, and the triggers that refuse changes."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sqlalchemy.dialects import sqlite
from sqlalchemy.schema import CreateIndex, CreateTable

from reprocess.ledger.tables import METADATA, PROJECTIONS, TRIGGERS

_DIALECT = sqlite.dialect()


@dataclass(frozen=True, slots=True)
class Gone:
    """Is one part of the schema that is not there, or is not as this program makes it."""

    name: str
    sentence: str


def trigger_name(text: str) -> str:
    """Returns the name that a CREATE TRIGGER statement gives."""
    return text.split(maxsplit=3)[2]


_TRIGGERS: Final = {trigger_name(text): text for text in TRIGGERS}


def gone(cursor: sqlite3.Cursor) -> Iterator[Gone]:
    """Yields what is missing of the tables and indexes, and each trigger that is not word for word as it was made."""
    made = dict(cursor.execute("SELECT name, sql FROM sqlite_master"))
    for table in METADATA.sorted_tables:
        if table.name not in made:
            yield Gone(table.name, f"the table {table.name} is missing")
        for index in table.indexes:
            if index.name not in made:
                yield Gone(str(index.name), f"the index {index.name} is missing")
    for name, text in _TRIGGERS.items():
        if made.get(name) != text:
            what = "is missing" if name not in made else "was changed"
            yield Gone(name, f"the trigger {name}, which refuses changes of entries, {what}")


def mend(cursor: sqlite3.Cursor) -> list[Gone]:
    """Makes anew what is missing of the projections and of the triggers, and returns what that was.

    The table of entries itself is never made anew: without it there is no record.
    """
    mended = []
    for one in list(gone(cursor)):
        if one.name in _TRIGGERS:
            cursor.execute(f"DROP TRIGGER IF EXISTS {one.name}")
            cursor.execute(_TRIGGERS[one.name])
            mended.append(one)
    missing = {one.name for one in gone(cursor)}
    for table in METADATA.sorted_tables:
        if table.name in missing and table in PROJECTIONS:
            cursor.execute(str(CreateTable(table).compile(dialect=_DIALECT)))
            mended.append(Gone(table.name, f"the table {table.name} was missing"))
        if table.name in missing and table not in PROJECTIONS:
            continue
        for index in table.indexes:
            if index.name in missing:
                cursor.execute(str(CreateIndex(index).compile(dialect=_DIALECT)))
                mended.append(Gone(str(index.name), f"the index {index.name} was missing"))
    return mended
