"""The database itself refuses to change, delete or replace an entry, whoever asks over our connections."""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from reprocess.department import Department
from reprocess.errors import LedgerError
from reprocess.ledger.statements import ENTRY_COLUMNS

NAMES = ", ".join(ENTRY_COLUMNS)
WITHOUT_FEED = ", ".join(name for name in ENTRY_COLUMNS if name != "feed")


def replaced(**values: str) -> str:
    """Returns a statement that writes entry 5 once more, with some of its values replaced."""
    shown = ", ".join(values.get(name, name) for name in ENTRY_COLUMNS)
    return f"INSERT OR REPLACE INTO entry ({NAMES}) SELECT {shown} FROM entry WHERE feed = 5"


NEW_FEED = "(SELECT max(feed) + 1 FROM entry)"
REFUSED = {
    "an update of one word": "UPDATE entry SET actor = 'P-B' WHERE feed = 5",
    "an update of nothing": "UPDATE entry SET actor = actor WHERE feed = 5",
    "a deletion": "DELETE FROM entry WHERE feed = 5",
    "a truncation": "DELETE FROM entry",
    "a replacement of the same feed number": f"INSERT OR REPLACE INTO entry SELECT {NAMES} FROM entry WHERE feed = 5",
    "a replacement of a feed number alone": replaced(stream="'site:NEW'", request_key="'new'"),
    "a replacement of a number in a stream alone": replaced(feed=NEW_FEED, request_key="'new'"),
    "a replacement of a key alone": replaced(feed=NEW_FEED, stream="'site:NEW'"),
    "REPLACE": f"REPLACE INTO entry SELECT {NAMES} FROM entry WHERE feed = 5",
    "an upsert": (
        f"INSERT INTO entry SELECT {NAMES} FROM entry WHERE feed = 5 ON CONFLICT (feed) DO UPDATE SET actor = 'P-B'"
    ),
    "an entry before the last": f"INSERT INTO entry (feed, {WITHOUT_FEED}) SELECT 0, {WITHOUT_FEED} FROM entry LIMIT 1",
    "an update that replaces": "UPDATE OR REPLACE entry SET feed = 6 WHERE feed = 5",
}


@pytest.mark.parametrize("statement", REFUSED.values(), ids=REFUSED.keys())
def test_the_database_refuses(department: Department, path: Path, statement: str) -> None:
    before = _entries(path)
    with pytest.raises(LedgerError), department.ledger.writing() as cursor:
        cursor.execute(statement)
    assert _entries(path) == before


@pytest.mark.parametrize("statement", REFUSED.values(), ids=REFUSED.keys())
def test_a_connection_without_our_settings_is_refused_too(path: Path, statement: str) -> None:
    before = _entries(path)
    raw = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError):
        raw.execute(statement)
    raw.close()
    assert _entries(path) == before


def _entries(path: Path) -> list[tuple[object, ...]]:
    raw = sqlite3.connect(path)
    rows = raw.execute(f"SELECT {NAMES} FROM entry ORDER BY feed").fetchall()
    raw.close()
    return rows
