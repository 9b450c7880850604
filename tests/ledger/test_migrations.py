"""Migrations run once, whole, in one transaction; killed at any statement they leave the old schema or the new one."""

from __future__ import annotations

import sqlite3
from functools import partial
from itertools import count
from pathlib import Path

import pytest

from reprocess.errors import LedgerVersionError
from reprocess.ledger.driver import Cursor
from reprocess.ledger.keys import Keys, read_keys
from reprocess.ledger.migrate import MIGRATIONS, Migration, schema_number, to_current
from reprocess.ledger.open import Ledger, connected, create_ledger, key_path, open_ledger
from reprocess.ledger.tables import METADATA
from reprocess.ledger.verify import verify
from tests.faults.crashing import CrashError, Fuse, connecting, copied

POINTS_MAX = 200


def _shelves(cursor: Cursor) -> None:
    cursor.execute("CREATE TABLE shelf (shelf TEXT PRIMARY KEY, site TEXT NOT NULL)")
    cursor.execute("INSERT INTO shelf SELECT DISTINCT 'shelf of ' || site, site FROM standing WHERE site IS NOT NULL")
    cursor.execute("ALTER TABLE standing ADD COLUMN shelf TEXT")
    cursor.execute("UPDATE standing SET shelf = 'shelf of ' || site")


def _index(cursor: Cursor) -> None:
    cursor.execute("CREATE INDEX standing_shelf ON standing (shelf)")


TOMORROW: tuple[Migration, ...] = (*MIGRATIONS, _shelves, _index)


def schema(path: Path) -> set[str]:
    raw = sqlite3.connect(path)
    found = {row[0] for row in raw.execute("SELECT name FROM sqlite_master")}
    raw.close()
    return found


def number(ledger: Ledger) -> int:
    with ledger.reading() as cursor:
        return schema_number(cursor)


def migrate(ledger: Ledger) -> None:
    with ledger.writing() as cursor:
        to_current(cursor, fresh=False, migrations=TOMORROW)


def key_of(path: Path) -> Keys:
    return read_keys(key_path(path), path.name)


def test_an_older_record_is_brought_forward_once_and_nothing_is_lost(path: Path) -> None:
    ledger = open_ledger(path)
    entries = verify(ledger).entries
    for _ in range(2):
        migrate(ledger)
        assert number(ledger) == len(TOMORROW)
        assert verify(ledger).entries == entries
    with ledger.reading() as cursor:
        assert cursor.execute("SELECT site FROM shelf").fetchall() == [("LMG",)]
    ledger.close()


def test_a_migration_killed_at_any_statement_leaves_the_old_schema_or_the_new(path: Path, tmp_path: Path) -> None:
    old = schema(path)
    for at in count(1):
        assert at < POINTS_MAX
        fuse = Fuse(at)
        copy = copied(path, tmp_path / "migrating")
        fuse.burn = partial(copied, copy, tmp_path / "killed")
        ledger = connected(copy, key_of(copy), connect=connecting(fuse))
        number(ledger)
        done = not _killed(ledger, fuse)
        assert number(ledger) == (len(TOMORROW) if done else len(MIGRATIONS))
        ledger.close()
        if done:
            break
        killed = tmp_path / "killed" / path.name
        assert schema(killed) == old
        again = connected(killed, key_of(killed))
        assert (number(again), verify(again).sound) == (len(MIGRATIONS), True)
        migrate(again)
        assert (number(again), verify(again).sound) == (len(TOMORROW), True)
        again.close()
    assert at > len(TOMORROW) - len(MIGRATIONS)


def _killed(ledger: Ledger, fuse: Fuse) -> bool:
    fuse.lit = True
    try:
        migrate(ledger)
    except CrashError:
        return True
    finally:
        fuse.lit = False
    return False


def test_a_new_record_has_every_table_and_says_its_schema(tmp_path: Path) -> None:
    ledger = create_ledger(tmp_path / "new.db")
    assert number(ledger) == len(MIGRATIONS)
    assert {table.name for table in METADATA.sorted_tables} <= schema(tmp_path / "new.db")
    ledger.close()


def test_a_program_of_today_refuses_the_record_of_tomorrow(path: Path) -> None:
    ledger = open_ledger(path)
    migrate(ledger)
    ledger.close()
    before = schema(path)
    told = f"has schema {len(TOMORROW)}, this program knows {len(MIGRATIONS)}; use the newer program"
    with pytest.raises(LedgerVersionError, match=told):
        open_ledger(path)
    assert schema(path) == before


def test_two_programs_that_migrate_at_once_do_it_once(path: Path) -> None:
    one, two = open_ledger(path), open_ledger(path)
    assert number(one) == number(two) == len(MIGRATIONS)
    migrate(one)
    migrate(two)
    assert number(two) == len(TOMORROW)
    one.close()
    two.close()
