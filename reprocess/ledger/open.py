"""Opening a ledger: a file or an address, the key that lies outside the database, and transactions on it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from reprocess.errors import LedgerError
from reprocess.ledger import migrate
from reprocess.ledger import statements as sql
from reprocess.ledger.address import Server
from reprocess.ledger.disk import KEY_BYTES, keep_key, key_path, sync_folder
from reprocess.ledger.keys import Keys, Ring, new_keys, read_keys
from reprocess.ledger.memory import Memory
from reprocess.ledger.sqlite import (
    BUSY_MS,
    POOL_OVERFLOW,
    POOL_SIZE,
    PRAGMAS,
    Connect,
    Sqlite,
    connect_sqlite,
    in_our_words,
    must_be_sqlite,
)
from reprocess.ledger.whereabouts import must_be_here

if TYPE_CHECKING:
    from reprocess.ledger.postgres import Postgres

__all__ = [
    "BUSY_MS",
    "KEY_BYTES",
    "POOL_OVERFLOW",
    "POOL_SIZE",
    "PRAGMAS",
    "Connect",
    "Ledger",
    "Server",
    "closed_on_error",
    "connect_sqlite",
    "connected",
    "create_ledger",
    "in_our_words",
    "keep_key",
    "key_path",
    "open_ledger",
    "over",
    "sync_folder",
]


@dataclass(frozen=True, slots=True)
class Ledger:
    """Is an open record: the database, and the MAC keys from outside it.

    Attributes:
        database: SQLite or PostgreSQL, with a pool of connections.
        path: the database's file; on PostgreSQL the name beside which this computer keeps the key.
        ring: the MAC keys, and the file that they are read from again when there are new ones.
        memories: what each connection remembers.
    """

    database: Sqlite | Postgres
    path: Path
    ring: Ring
    memories: dict[int, Memory] = field(default_factory=dict)

    @property
    def keys(self) -> Keys:
        """Returns the MAC keys as they were read last."""
        return self.ring.keys

    @property
    def key(self) -> bytes:
        """Returns the root key, from which the pepper of PINs and the seals of secrets are derived."""
        return self.keys.root

    @property
    def engine(self) -> Any:
        """Returns what the pool of connections tells its events through."""
        return self.database.engine if isinstance(self.database, Sqlite) else self.database.pool

    @property
    def name(self) -> str:
        """Returns how the record is called in sentences."""
        return self.database.name

    @property
    def server(self) -> Postgres | None:
        """Returns the PostgreSQL database, or None where the record is a file."""
        return None if isinstance(self.database, Sqlite) else self.database

    def close(self) -> None:
        """Closes every connection."""
        self.memories.clear()
        self.database.dispose()

    def memory_of(self, connection: Any) -> Memory:
        """Returns what a connection remembers; a new connection remembers nothing.

        On a server all connections of this process remember together, since they write one after the other.
        """
        if self.server is not None:
            return self.memories.setdefault(0, Memory(None))
        memory = self.memories.get(id(connection))
        if memory is None or memory.connection is not connection:
            if len(self.memories) >= self.database.connections:
                self.memories.clear()
            memory = self.memories[id(connection)] = Memory(connection)
        return memory

    def hurry(self) -> None:
        """Lets one thread commit without waiting for the disk, for a story that anybody can play again."""
        with self.cursor() as cursor:
            self.database.hurry(cursor)

    @contextmanager
    def _using(self, begun: Callable[[], tuple[Any, Any]]) -> Iterator[Any]:
        """Yields the driver's cursor of a pooled connection; errors come out in our own words."""
        try:
            pooled, cursor = begun()
            try:
                try:
                    yield cursor
                finally:
                    self.database.take_back(pooled.driver_connection)
                    cursor.close()
            finally:
                pooled.close()
        except (*self.database.faults, sqlite3.Error, DBAPIError, PoolTimeoutError, OSError) as fault:
            ours = self.database.in_our_words(fault)
            if ours is fault:
                raise
            raise ours from fault

    @contextmanager
    def cursor(self) -> Iterator[Any]:
        """Yields a cursor outside any transaction."""
        with self._using(lambda: self.database.begun(None)) as cursor:
            yield cursor

    @contextmanager
    def reading(self) -> Iterator[Any]:
        """Yields a cursor inside one read transaction, so that everything read belongs together."""
        with self._using(self.database.reading) as cursor:
            yield cursor

    @contextmanager
    def writing(self) -> Iterator[Any]:
        """Yields a cursor as the only writer, for work beside the append path; what was remembered is forgotten."""
        with self.in_transaction() as cursor:
            self.memory_of(cursor.connection).forget()
            self.database.touch(cursor)
            yield cursor

    @contextmanager
    def claiming(self) -> Iterator[Any]:
        """Yields a cursor in a short transaction for working tables; on a server others go on writing entries."""
        with self._using(self.database.claiming) as cursor:
            yield cursor
            self.database.commit(cursor, self.path)

    @contextmanager
    def in_transaction(self, committed: Callable[[], None] | None = None) -> Iterator[Any]:
        """Yields a cursor as the only writer; commits at the end, takes everything back on any error.

        Args:
            committed: what is done after the commit while the connection is still ours; a thread that is handed the
                connection next must find it done.
        """
        with self.database.turn(), self._using(self.database.writing) as cursor:
            try:
                yield cursor
                self.database.commit(cursor, self.path)
            except BaseException:
                self.memory_of(cursor.connection).forget()
                raise
            if committed is not None:
                committed()

    def settle(self) -> bool:
        """Lets what was deleted go from the disk; returns False where a reader still keeps some of it."""
        with self.cursor() as cursor:
            return self.database.settle(cursor)


def create_ledger(path: Path | Server, *, connect: Connect = connect_sqlite) -> Ledger:
    """Returns a new, empty ledger with a new key, readable by its owner alone.

    Raises:
        LedgerError: something of that name exists already, or the folder cannot be written.
    """
    if isinstance(path, Server):
        from reprocess.ledger.postgres import create  # noqa: PLC0415 - the driver is loaded where there is a server

        return _created_on(create(path), path)
    for taken in (path, key_path(path)):
        if taken.exists():
            message = f"{taken} exists already; nothing was changed."
            raise LedgerError(message, path=str(taken))
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        keep_key(new_keys().as_bytes(), key_path(path))
    except OSError as fault:
        raise in_our_words(fault, path) from fault
    try:
        ledger = connected(path, read_keys(key_path(path), path.name), connect=connect, fresh=True)
        with closed_on_error(ledger), ledger.writing() as cursor:
            migrate.to_current(cursor, fresh=True)
    except BaseException:
        remove(path)
        raise
    return ledger


def _created_on(database: Postgres, place: Server) -> Ledger:
    """Returns the new ledger on a server, with a new key on this computer."""
    try:
        place.key_file.parent.mkdir(parents=True, exist_ok=True)
        keep_key(new_keys().as_bytes(), place.key_file)
    except OSError as fault:
        database.dispose()
        remove(place)
        raise in_our_words(fault, place.key_file) from fault
    return over(database, place, read_keys(place.key_file, database.name))


def remove(path: Path | Server) -> None:
    """Removes what an unfinished founding left behind."""
    if isinstance(path, Server):
        from reprocess.ledger.postgres import take_down  # noqa: PLC0415 - as above

        take_down(path)
        path.key_file.unlink(missing_ok=True)
        return
    for suffix in ("", "-wal", "-shm", ".key"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def open_ledger(path: Path | Server, *, connect: Connect = connect_sqlite) -> Ledger:
    """Returns the ledger of an existing file or address, migrated to this program's schema.

    Raises:
        LedgerError: there is no such file, or no key beside it.
        LedgerVersionError: the file was written by a newer program.
        LedgerUnsafeError: the settings that make a step durable do not hold on this disk.
    """
    if isinstance(path, Server):
        from reprocess.ledger.postgres import opened  # noqa: PLC0415 - as above

        keys = read_keys(path.key_file, path.address)
        ledger = over(opened(path), path, keys)
    else:
        if not path.exists():
            message = f"There is no department in {path}; `reprocess init` makes one."
            raise LedgerError(message, path=str(path))
        keys = read_keys(key_path(path), path.name)
        must_be_sqlite(path)
        ledger = connected(path, keys, connect=connect)
    with closed_on_error(ledger):
        if not _is_current(ledger):
            with ledger.writing() as cursor:
                migrate.to_current(cursor, fresh=False)
        _must_be_founded(ledger)
    return ledger


def connected(path: Path, keys: Keys, *, connect: Connect = connect_sqlite, fresh: bool = False) -> Ledger:
    """Returns a ledger over a database file whose schema is taken as it is."""
    return Ledger(Sqlite(path, connect, fresh=fresh), path, Ring(keys, key_path(path), path.name))


def over(database: Postgres, place: Server, keys: Keys) -> Ledger:
    """Returns a ledger over a database on a server."""
    return Ledger(database, place.beside, Ring(keys, place.key_file, database.name))


@contextmanager
def closed_on_error(ledger: Ledger) -> Iterator[Ledger]:
    """Yields a ledger that is closed again when what is done with it fails."""
    try:
        yield ledger
    except BaseException:
        ledger.close()
        raise


def _is_current(ledger: Ledger) -> bool:
    with ledger.reading() as cursor:
        return migrate.schema_number(cursor) == len(migrate.MIGRATIONS)


def _must_be_founded(ledger: Ledger) -> None:
    """Raises for a record without entries, which a founding left behind that was killed on its way."""
    with ledger.reading() as cursor:
        must_be_here(cursor, ledger.name)
        begun = cursor.execute("SELECT 1 FROM entry LIMIT 1").fetchone()
        last = cursor.execute(sql.LAST_FEED).fetchone()
    if begun is None and last is not None and last[0]:
        message = f"{ledger.name} holds none of its {last[0]} entries: it is damaged. Nothing was changed."
        raise LedgerError(message, path=str(ledger.path))
    if begun is None:
        name = ledger.name
        message = (
            f"{name} holds no entry: its founding was not finished. Remove {name} and {name}.key, and begin again."
        )
        raise LedgerError(message, path=str(ledger.path))
