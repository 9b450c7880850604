"""Opening a ledger: the engine, its settings read back, the key that lies outside the database."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.pool import QueuePool

from reprocess.errors import (
    LedgerBusyError,
    LedgerError,
    LedgerFullError,
    LedgerUnsafeError,
    LedgerVersionError,
    ReprocessError,
)
from reprocess.ledger import migrate

BUSY_MS: Final = 5_000
"""How long a writer waits for another one (invariant I8 allows 2 s under load; a backup may hold it longer)."""
KEY_BYTES: Final = 32

PRAGMAS: Final = (
    ("journal_mode", "WAL", "wal"),
    ("synchronous", "FULL", 2),
    ("foreign_keys", "ON", 1),
    ("recursive_triggers", "ON", 1),
    ("trusted_schema", "OFF", 0),
    ("busy_timeout", str(BUSY_MS), BUSY_MS),
)
"""What makes a step durable and the triggers complete: name, what is set, what must be read back."""

Connect = Callable[[str], sqlite3.Connection]


def connect_sqlite(path: str) -> sqlite3.Connection:
    """Returns a new connection of the standard library's driver, without its own transactions."""
    return sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=BUSY_MS / 1000)


@dataclass(frozen=True, slots=True)
class Ledger:
    """Is an open record: the SQLAlchemy engine over the file, and the MAC key from beside it."""

    engine: Engine
    path: Path
    key: bytes

    def close(self) -> None:
        """Closes every connection."""
        self.engine.dispose()

    @contextmanager
    def cursor(self) -> Iterator[sqlite3.Cursor]:
        """Yields the driver's cursor of a pooled SQLAlchemy connection; errors come out in our own words."""
        try:
            with self.engine.connect() as connection:
                driver: Any = connection.connection.driver_connection
                cursor = driver.cursor()
                try:
                    yield cursor
                finally:
                    if driver.in_transaction:
                        driver.rollback()
                    cursor.close()
        except sqlite3.ProgrammingError:
            raise
        except (sqlite3.Error, OSError) as fault:
            raise in_our_words(fault, self.path) from fault

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Cursor]:
        """Yields a cursor inside BEGIN IMMEDIATE; commits at the end, takes everything back on any error."""
        with self.cursor() as cursor:
            cursor.execute("BEGIN IMMEDIATE")
            yield cursor
            cursor.execute("COMMIT")

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Cursor]:
        """Yields a cursor inside one read transaction, so that everything read belongs together."""
        with self.cursor() as cursor:
            cursor.execute("BEGIN")
            yield cursor


def key_path(path: Path) -> Path:
    """Returns where the MAC key of a database lies: beside it, never in it."""
    return path.with_name(path.name + ".key")


def create_ledger(path: Path, *, connect: Connect = connect_sqlite) -> Ledger:
    """Returns a new, empty ledger with a new key, readable by its owner alone.

    Raises:
        LedgerError: something of that name exists already, or the folder cannot be written.
    """
    if path.exists() or key_path(path).exists():
        message = f"{path} exists already; nothing was changed."
        raise LedgerError(message, path=str(path))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        key_path(path).touch(mode=0o600, exist_ok=False)
        key_path(path).write_bytes(secrets.token_bytes(KEY_BYTES))
    except OSError as fault:
        raise in_our_words(fault, path) from fault
    return _opened(path, connect, fresh=True)


def open_ledger(path: Path, *, connect: Connect = connect_sqlite) -> Ledger:
    """Returns the ledger of an existing file, migrated to this program's schema.

    Raises:
        LedgerError: there is no such file, or no key beside it.
        LedgerVersionError: the file was written by a newer program.
        LedgerUnsafeError: the settings that make a step durable do not hold on this disk.
    """
    if not path.exists():
        message = f"There is no department in {path}; `reprocess init` makes one."
        raise LedgerError(message, path=str(path))
    if not key_path(path).exists():
        message = f"The key {key_path(path).name} is missing beside {path.name}; the record cannot be continued."
        raise LedgerError(message, path=str(path))
    return _opened(path, connect, fresh=False)


def _opened(path: Path, connect: Connect, *, fresh: bool) -> Ledger:
    try:
        key = key_path(path).read_bytes()
    except OSError as fault:
        raise in_our_words(fault, path) from fault
    if len(key) != KEY_BYTES:
        message = f"{key_path(path).name} does not hold {KEY_BYTES} bytes; the record cannot be continued."
        raise LedgerError(message, path=str(path))
    engine = create_engine(
        "sqlite://", creator=lambda: connect(str(path)), poolclass=QueuePool, pool_size=4, max_overflow=12
    )
    event.listen(engine, "connect", lambda driver, _: _settle(driver))
    ledger = Ledger(engine, path, key)
    try:
        if fresh or not _is_current(ledger):
            with ledger.writing() as cursor:
                migrate.to_current(cursor, fresh=fresh)
    except ReprocessError:
        engine.dispose()
        raise
    return ledger


def _is_current(ledger: Ledger) -> bool:
    with ledger.reading() as cursor:
        return migrate.schema_number(cursor) == len(migrate.MIGRATIONS)


def _settle(driver: Any) -> None:
    """Sets what a step's durability rests on, reads it back and refuses anything else."""
    cursor = driver.cursor()
    try:
        for name, wanted, expected in PRAGMAS:
            cursor.execute(f"PRAGMA {name} = {wanted}")
            seen = cursor.execute(f"PRAGMA {name}").fetchone()[0]
            if seen != expected:
                message = f"The database keeps {name} = {seen}, not {wanted}; a step might be lost at a power cut."
                raise LedgerUnsafeError(message, pragma=name, seen=seen)
    finally:
        cursor.close()


def in_our_words(fault: Exception, path: Path) -> ReprocessError:
    """Returns a database or disk error as one sentence that says what happened and that nothing was recorded."""
    text = str(fault).lower()
    if "locked" in text or "busy" in text:
        return LedgerBusyError(f"Another process keeps {path.name} busy; nothing was recorded. Try again.")
    if "full" in text or "no space" in text:
        return LedgerFullError(f"The disk with {path.name} is full; nothing was recorded.")
    if "readonly" in text or "read-only" in text or isinstance(fault, PermissionError):
        return LedgerFullError(f"{path.name} cannot be written here; nothing was recorded.")
    if "no such table" in text or "not a database" in text or "malformed" in text:
        return LedgerVersionError(f"{path.name} is not a department's record, or it is damaged.")
    return LedgerError(f"{path.name} could not be used ({text}); nothing was recorded.")
