"""A disk that fails in the middle: an error is not a no, and what is not certain is not called certain.

When writing to the log fails, SQLite may or may not have kept the transaction; only the next reader can tell. So the
sentence says that it is not certain, nothing that was open is trusted, and the same key settles it: one entry.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import pytest

from reprocess.clock import StoryClock
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerError
from tests.ledger import small
from tests.ledger.day import Asked

NOTE = Asked("note", NoteItem("S-1", minutes=1))


@dataclass
class Disk:
    """Fails once, at a statement that begins with this word, before or after it was carried out."""

    at: str = ""
    carried_out: bool = False
    connections: int = 0

    def connect(self, path: str) -> sqlite3.Connection:
        self.connections += 1
        made = sqlite3.connect(path, isolation_level=None, check_same_thread=False, factory=_Connection)
        made.disk = self
        return made


class _Connection(sqlite3.Connection):
    disk: Disk

    def cursor(self, factory: Any = None) -> Any:
        return super().cursor(factory or _Cursor)


class _Cursor(sqlite3.Cursor):
    def execute(self, sql: str, parameters: Any = ()) -> Self:
        assert isinstance(self.connection, _Connection)
        disk = self.connection.disk
        fails = bool(disk.at) and sql.startswith(disk.at)
        if not fails or disk.carried_out:
            super().execute(sql, parameters)
        if fails:
            disk.at = ""
            message = "disk I/O error"
            raise sqlite3.OperationalError(message)
        return self


@pytest.mark.parametrize("carried_out", [False, True], ids=["nothing kept", "kept all the same"])
def test_a_failure_at_the_end_is_not_called_a_no(tmp_path: Path, carried_out: bool) -> None:  # noqa: FBT001 - a parameter
    clock, disk = StoryClock(small.START_US), Disk()
    small.found(tmp_path / "department.db", clock).close()
    with small.opened(tmp_path / "department.db", clock, connect=disk.connect) as department:
        disk.at, disk.carried_out = "COMMIT", carried_out
        before = disk.connections
        with pytest.raises(LedgerError, match="whether it is on record is not certain") as told:
            NOTE.put(department)
        assert "nothing was recorded" not in told.value.sentence
        assert told.value.exit_code == 3
        again = NOTE.put(department)
        assert again.repeated is carried_out
        assert disk.connections > before
        assert department.item("S-1").used_minutes == 1
        assert department.verify(full=True).sound


@pytest.mark.parametrize("at", ["BEGIN IMMEDIATE", "SELECT", "INSERT INTO entry", "INSERT INTO standing"])
def test_a_failure_on_the_way_is_a_no(tmp_path: Path, at: str) -> None:
    clock, disk = StoryClock(small.START_US), Disk()
    small.found(tmp_path / "department.db", clock).close()
    with small.opened(tmp_path / "department.db", clock, connect=disk.connect) as department:
        disk.at, disk.carried_out = at, True
        with pytest.raises(LedgerError, match="nothing was recorded") as told:
            NOTE.put(department)
        assert told.value.exit_code == 3
        assert not NOTE.put(department).repeated
        assert department.item("S-1").used_minutes == 1
        assert department.verify(full=True).sound
