"""Opening a ledger: the engine, its settings read back, the key that lies outside the database."""

from __future__ import annotations

import errno
import os
import secrets
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
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
from reprocess.ledger.memory import Memory

BUSY_MS: Final = 5_000
"""How long a writer waits for another one (invariant I8 allows 2 s under load; a backup may hold it longer)."""
POOL_SIZE: Final = 4
POOL_OVERFLOW: Final = 12
KEY_BYTES: Final = 32

PRAGMAS: Final = (
    ("journal_mode", "WAL", "wal"),
    ("synchronous", "FULL", 2),
    ("foreign_keys", "ON", 1),
    ("recursive_triggers", "ON", 1),
    ("trusted_schema", "OFF", 0),
    ("secure_delete", "ON", 1),
    ("busy_timeout", str(BUSY_MS), BUSY_MS),
)
"""What makes a step durable, triggers complete and an erased name gone: name, what is set, what must be read back."""

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
    memories: dict[int, Memory] = field(default_factory=dict)

    def close(self) -> None:
        """Closes every connection."""
        self.memories.clear()
        self.engine.dispose()

    def memory_of(self, connection: sqlite3.Connection) -> Memory:
        """Returns what a connection remembers; a new connection remembers nothing."""
        memory = self.memories.get(id(connection))
        if memory is None or memory.connection is not connection:
            if len(self.memories) >= POOL_SIZE + POOL_OVERFLOW:
                self.memories.clear()
            memory = self.memories[id(connection)] = Memory(connection)
        return memory

    def hurry(self) -> None:
        """Lets one thread commit without waiting for the disk, for a story that anybody can play again."""
        with self.cursor() as cursor:
            cursor.execute("PRAGMA synchronous = OFF")

    @contextmanager
    def cursor(self) -> Iterator[sqlite3.Cursor]:
        """Yields the driver's cursor of a pooled SQLAlchemy connection; errors come out in our own words."""
        try:
            pooled = self.engine.raw_connection()
            try:
                driver: Any = pooled.driver_connection
                cursor = driver.cursor()
                try:
                    yield cursor
                finally:
                    if driver.in_transaction:
                        driver.rollback()
                    cursor.close()
            finally:
                pooled.close()
        except sqlite3.ProgrammingError:
            raise
        except (sqlite3.Error, DBAPIError, PoolTimeoutError, OSError) as fault:
            if _is_broken(fault):
                self.engine.dispose()
            raise in_our_words(fault, self.path) from fault

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Cursor]:
        """Yields a cursor inside BEGIN IMMEDIATE for work beside the append path; what was remembered is forgotten."""
        with self.in_transaction() as cursor:
            self.memory_of(cursor.connection).forget()
            yield cursor

    @contextmanager
    def in_transaction(self, committed: Callable[[], None] | None = None) -> Iterator[sqlite3.Cursor]:
        """Yields a cursor inside BEGIN IMMEDIATE; commits at the end, takes everything back on any error.

        Args:
            committed: what is done after the commit while the connection is still ours; a thread that is handed the
                connection next must find it done.
        """
        with self.cursor() as cursor:
            cursor.execute("BEGIN IMMEDIATE")
            yield cursor
            self._commit(cursor)
            if committed is not None:
                committed()

    def _commit(self, cursor: sqlite3.Cursor) -> None:
        """Commits, and does not say "nothing was recorded" where the disk failed on the way: an error is not a no."""
        try:
            cursor.execute("COMMIT")
        except sqlite3.OperationalError as fault:
            if not _is_broken(fault):
                raise
            self.engine.dispose()
            message = (
                f"The disk with {self.path.name} failed while this was being recorded; whether it is on record is not "
                "certain. Look at its history, or send it again with the same key: it is recorded once."
            )
            raise LedgerError(message, path=str(self.path)) from fault

    def settle(self) -> bool:
        """Empties the write-ahead log into the file; returns False where a reader still keeps some of it."""
        with self.cursor() as cursor:
            return bool(cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0)

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
    for taken in (path, key_path(path)):
        if taken.exists():
            message = f"{taken} exists already; nothing was changed."
            raise LedgerError(message, path=str(taken))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        keep_key(secrets.token_bytes(KEY_BYTES), key_path(path))
    except OSError as fault:
        raise in_our_words(fault, path) from fault
    try:
        ledger = connected(path, read_key(path), connect=connect, fresh=True)
        with closed_on_error(ledger), ledger.writing() as cursor:
            migrate.to_current(cursor, fresh=True)
    except BaseException:
        for suffix in ("", "-wal", "-shm", ".key"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        raise
    return ledger


def keep_key(key: bytes, place: Path) -> None:
    """Writes a key to a new file that its owner alone can read, and waits until it is on the disk.

    Raises:
        FileExistsError: there is such a file already; a key is never overwritten.
    """
    handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(key)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Waits until the names in a folder are on the disk, where the system can do that for folders."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


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
    key = read_key(path)
    _must_be_sqlite(path)
    ledger = connected(path, key, connect=connect)
    with closed_on_error(ledger):
        if not _is_current(ledger):
            with ledger.writing() as cursor:
                migrate.to_current(cursor, fresh=False)
        _must_be_founded(ledger)
    return ledger


def read_key(path: Path) -> bytes:
    """Returns the MAC key from beside a database.

    Raises:
        LedgerError: it is missing, cannot be read, or is no key.
    """
    place = key_path(path)
    if not place.exists():
        message = f"The key {place.name} is missing beside {path.name}; the record cannot be continued."
        raise LedgerError(message, path=str(place))
    try:
        key = place.read_bytes()
    except OSError as fault:
        message = f"The key {place.name} cannot be read ({fault.strerror or fault}); the record cannot be continued."
        raise LedgerError(message, path=str(place)) from fault
    if len(key) != KEY_BYTES:
        message = f"{place.name} does not hold {KEY_BYTES} bytes; the record cannot be continued."
        raise LedgerError(message, path=str(place))
    return key


def connected(path: Path, key: bytes, *, connect: Connect = connect_sqlite, fresh: bool = False) -> Ledger:
    """Returns a ledger over a database file whose schema is taken as it is."""
    engine = create_engine(
        "sqlite://",
        creator=lambda: connect(str(path)),
        poolclass=QueuePool,
        pool_size=POOL_SIZE,
        max_overflow=POOL_OVERFLOW,
        pool_reset_on_return=None,
    )
    event.listen(engine, "connect", lambda driver, _: _settle(driver, fresh=fresh))
    return Ledger(engine, path, key)


@contextmanager
def closed_on_error(ledger: Ledger) -> Iterator[Ledger]:
    """Yields a ledger that is closed again when what is done with it fails."""
    try:
        yield ledger
    except BaseException:
        ledger.close()
        raise


def _must_be_sqlite(path: Path) -> None:
    """Raises before anything is opened, since opening a foreign file for writing would change it."""
    try:
        with path.open("rb") as file:
            begins = file.read(len(_MAGIC))
    except OSError as fault:
        raise in_our_words(fault, path) from fault
    if begins != _MAGIC:
        what = "is empty: its founding was not finished" if not begins else "is not a database"
        message = f"{path.name} {what}, or it is damaged; it is no department's record. Nothing was changed."
        raise LedgerVersionError(message, path=str(path))


_MAGIC: Final = b"SQLite format 3\0"
"""How every SQLite 3 database begins (SQLite, "Database File Format", section 1.3.1)."""


def _is_current(ledger: Ledger) -> bool:
    with ledger.reading() as cursor:
        return migrate.schema_number(cursor) == len(migrate.MIGRATIONS)


def _must_be_founded(ledger: Ledger) -> None:
    """Raises for a record without entries, which a founding left behind that was killed on its way."""
    with ledger.reading() as cursor:
        begun = cursor.execute("SELECT 1 FROM entry LIMIT 1").fetchone()
    if begun is None:
        name = ledger.path.name
        message = (
            f"{name} holds no entry: its founding was not finished. Remove {name} and {name}.key, and begin again."
        )
        raise LedgerError(message, path=str(ledger.path))


def _settle(driver: Any, *, fresh: bool) -> None:
    """Sets what a step's durability rests on, reads it back and refuses anything else."""
    cursor = driver.cursor()
    try:
        if not fresh:
            migrate.schema_number(cursor)
        for name, wanted, expected in PRAGMAS:
            cursor.execute(f"PRAGMA {name} = {wanted}")
            seen = cursor.execute(f"PRAGMA {name}").fetchone()[0]
            if seen != expected:
                message = f"The database keeps {name} = {seen}, not {wanted}; a step might be lost at a power cut."
                raise LedgerUnsafeError(message, pragma=name, seen=seen)
    finally:
        cursor.close()


def _is_broken(fault: Exception) -> bool:
    """Tells whether the disk itself failed; then nothing that is open is trusted, and SQLite reads its log anew."""
    return "disk i/o error" in _text_of(fault)


def in_our_words(fault: Exception, path: Path) -> ReprocessError:
    """Returns a database or disk error as one sentence that says what happened and that nothing was recorded."""
    if isinstance(fault, PoolTimeoutError):
        return LedgerBusyError(f"Too many requests wait for {path.name}; nothing was recorded. Try again.")
    if isinstance(fault, OSError):
        return _of_the_disk(fault, path)
    text = _text_of(fault)
    if "locked" in text or "busy" in text:
        return LedgerBusyError(f"Another process keeps {path.name} busy; nothing was recorded. Try again.")
    if "full" in text:
        return LedgerFullError(f"The disk with {path.name} is full; nothing was recorded.")
    if "readonly" in text:
        return LedgerFullError(f"{path.name} cannot be written here; nothing was recorded.")
    if any(sign in text for sign in ("no such table", "no such column", "not a database", "malformed")):
        return LedgerVersionError(f"{path.name} is not a department's record, or it is damaged.")
    return LedgerError(f"{path.name} could not be used ({text}); nothing was recorded.")


def _of_the_disk(fault: OSError, path: Path) -> ReprocessError:
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return LedgerFullError(f"The disk with {path.name} is full; nothing was recorded.")
    if fault.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return LedgerFullError(f"{path.name} cannot be written here; nothing was recorded.")
    return LedgerError(f"{path.name} could not be used ({fault.strerror or fault}); nothing was recorded.")


def _text_of(fault: Exception) -> str:
    return str(getattr(fault, "orig", None) or fault).lower()
