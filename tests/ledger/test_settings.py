"""A step is durable only under certain settings; each is read back, and anything else is refused."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self

import pytest

from reprocess.errors import LedgerUnsafeError
from reprocess.ledger.open import PRAGMAS, create_ledger, key_path, open_ledger


def lying(name: str, lie: object) -> Callable[[str], sqlite3.Connection]:
    """Returns what opens connections that read back another value for one setting."""

    class Cursor(sqlite3.Cursor):
        def execute(self, sql: str, parameters: Any = ()) -> Self:
            if sql == f"PRAGMA {name}":
                return super().execute("SELECT ?", (lie,))
            return super().execute(sql, parameters)

    class Connection(sqlite3.Connection):
        def cursor(self, factory: Any = Cursor) -> Any:
            return super().cursor(factory)

    return lambda path: sqlite3.connect(path, isolation_level=None, factory=Connection)


LIES = [("journal_mode", "delete"), ("journal_mode", "memory"), ("synchronous", 1), ("synchronous", 0)] + [
    (name, 0 if expected != 0 else 1) for name, _, expected in PRAGMAS if name not in {"journal_mode", "synchronous"}
]


@pytest.mark.parametrize(("name", "lie"), LIES)
def test_a_setting_that_does_not_hold_is_refused(path: Path, name: str, lie: object) -> None:
    with pytest.raises(LedgerUnsafeError, match=f"keeps {name} = {lie}"):
        open_ledger(path, connect=lying(name, lie))


def test_a_department_is_not_made_where_settings_do_not_hold_and_nothing_stays_behind(tmp_path: Path) -> None:
    path = tmp_path / "new.db"
    with pytest.raises(LedgerUnsafeError):
        create_ledger(path, connect=lying("synchronous", 1))
    assert list(tmp_path.iterdir()) == []


def test_the_settings_hold_on_every_connection(path: Path) -> None:
    ledger = open_ledger(path)
    with ledger.reading() as one, ledger.reading() as two:
        for cursor in (one, two):
            assert cursor.execute("PRAGMA synchronous").fetchone() == (2,)
            assert cursor.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    ledger.close()


def test_the_key_is_readable_by_its_owner_alone(path: Path, tmp_path: Path) -> None:
    create_ledger(tmp_path / "own.db").close()
    assert key_path(tmp_path / "own.db").stat().st_mode & 0o777 == 0o600
    assert key_path(tmp_path / "own.db").read_bytes() != key_path(path).read_bytes()
