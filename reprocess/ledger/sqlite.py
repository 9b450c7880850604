"""SQLite: a department in one file, its settings read back, its faults in our words."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, create_engine, event
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
from reprocess.ledger.disk import of_the_disk
from reprocess.ledger.driver import Cursor

BUSY_MS: Final = 5_000
"""How long a writer waits for another one (invariant I8 allows 2 s under load; a backup may hold it longer)."""
POOL_SIZE: Final = 4
POOL_OVERFLOW: Final = 12

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


class Sqlite:
    """Is the pool of connections to one file, and what SQLite does in its own way.

    Attributes:
        name: how the database is called in sentences.
        connections: how many there can be at once.
        faults: what the driver raises.
    """

    connections = POOL_SIZE + 1 + 2 * POOL_OVERFLOW
    faults: Final = (sqlite3.Error,)

    def __init__(self, path: Path, connect: Connect, *, fresh: bool = False) -> None:
        self.path = path
        self.name = path.name
        self._file: tuple[int, int] | None = None
        self.engine = self._pool(connect, POOL_SIZE, fresh=fresh)
        self.writers = self._pool(connect, 1, fresh=fresh)
        self._turn = threading.Lock()

    def _pool(self, connect: Connect, size: int, *, fresh: bool) -> Engine:
        """Returns a pool of connections; the one that was used last is used again, since it remembers most."""
        engine = create_engine(
            "sqlite://",
            creator=lambda: connect(str(self.path)),
            poolclass=QueuePool,
            pool_size=size,
            max_overflow=POOL_OVERFLOW,
            pool_reset_on_return=None,
            pool_use_lifo=True,
        )
        event.listen(engine, "connect", lambda driver, _: self._begin(driver, fresh=fresh))
        return engine

    def _begin(self, driver: Any, *, fresh: bool) -> None:
        _settle(driver, fresh=fresh)
        if self._file is None:
            self._file = self._found()

    def _found(self) -> tuple[int, int] | None:
        """Returns which file lies at the path now, or None where there is none."""
        try:
            found = self.path.stat()
        except FileNotFoundError:
            return None
        return found.st_dev, found.st_ino

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Lets the threads of this process write one after the other, each as soon as the one before it is done.

        Left to SQLite, they would look again after a few milliseconds each, and the longest waits would be long.

        Raises:
            LedgerBusyError: the others took too long.
        """
        if not self._turn.acquire(timeout=BUSY_MS / 1000):
            message = f"Too many requests wait for {self.name}; nothing was recorded. Try again."
            raise LedgerBusyError(message)
        try:
            yield
        finally:
            self._turn.release()

    def begun(self, text: str | None, pool: Engine | None = None) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor of it, after a first statement where there is one."""
        pooled = (pool or self.engine).raw_connection()
        try:
            driver: Any = pooled.driver_connection
            cursor = driver.cursor()
            if text is not None:
                cursor.execute(text)
        except BaseException:
            pooled.close()
            raise
        return pooled, cursor

    def reading(self) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor in one read transaction."""
        return self.begun("BEGIN")

    def writing(self) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor in a transaction beside which nobody else writes."""
        pooled, cursor = self.begun("BEGIN IMMEDIATE", self.writers)
        try:
            self._must_be_the_same_file()
        except BaseException:
            self.take_back(pooled.driver_connection)
            pooled.close()
            raise
        return pooled, cursor

    def _must_be_the_same_file(self) -> None:
        """Raises where the file was moved, deleted or replaced under an open connection (I11).

        What is written then goes into a file that nobody finds any more, or forks the record.

        Raises:
            LedgerError: it was.
        """
        if self._found() != self._file:
            message = f"{self.name} was moved or replaced while it was open; nothing was recorded. Open it anew."
            raise LedgerError(message, path=str(self.path))

    claiming = writing
    """One writer at a time is all that SQLite has."""

    def take_back(self, driver: Any) -> None:
        """Takes back what was not committed."""
        if driver.in_transaction:
            driver.rollback()

    def commit(self, cursor: Cursor, path: Path) -> None:
        """Commits, and does not say "nothing was recorded" where the disk failed on the way: an error is not a no."""
        try:
            cursor.execute("COMMIT")
        except sqlite3.OperationalError as fault:
            if not _is_broken(fault):
                raise
            self.dispose()
            message = (
                f"The disk with {self.name} failed while this was being recorded; whether it is on record is not "
                "certain. Look at its history, or send it again with the same key: it is recorded once."
            )
            raise LedgerError(message, path=str(path)) from fault

    def touch(self, cursor: Cursor) -> None:
        """Does nothing: SQLite itself tells other connections that something was written."""
        del cursor

    def hurry(self, cursor: Cursor) -> None:
        """Lets the writing connection commit without waiting for the disk."""
        del cursor
        pooled, own = self.begun("PRAGMA synchronous = OFF", self.writers)
        own.close()
        pooled.close()

    def settle(self, cursor: Cursor) -> bool:
        """Empties the write-ahead log into the file; returns False where a reader still keeps some of it."""
        return bool(cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0)

    def dispose(self) -> None:
        """Closes every connection that nobody uses."""
        self.engine.dispose()
        self.writers.dispose()

    def in_our_words(self, fault: Exception) -> Exception:
        """Returns a fault as one of ours, or as it is where the program itself is wrong."""
        if isinstance(fault, sqlite3.ProgrammingError):
            return fault
        if _is_broken(fault):
            self.dispose()
        return in_our_words(fault, self.path)


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


def must_be_sqlite(path: Path) -> None:
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


def _is_broken(fault: Exception) -> bool:
    """Tells whether the disk itself failed; then nothing that is open is trusted, and SQLite reads its log anew."""
    return "disk i/o error" in _text_of(fault)


def in_our_words(fault: Exception, path: Path) -> ReprocessError:
    """Returns a database or disk error as one sentence that says what happened and that nothing was recorded."""
    if isinstance(fault, PoolTimeoutError):
        return LedgerBusyError(f"Too many requests wait for {path.name}; nothing was recorded. Try again.")
    if isinstance(fault, OSError):
        return of_the_disk(fault, path)
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


def _text_of(fault: Exception) -> str:
    return str(getattr(fault, "orig", None) or fault).lower()
