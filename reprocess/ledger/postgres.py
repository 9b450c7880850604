"""PostgreSQL: the pool of connections to one server, deadlines on everything, its faults in our words.

One writer at a time, as on SQLite: every writing transaction begins by locking the one row of `feed_head`, so that the
order of the feed is the order of the commits and has no gap. Writes are held and sent together (ledger/together.py), so
that their errors come at the latest with the commit.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, Self

import psycopg
from psycopg import errors
from psycopg.pq import TransactionStatus
from psycopg.types.numeric import Int8BinaryDumper, Int8Dumper
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.pool import QueuePool

from reprocess.errors import (
    LedgerBusyError,
    LedgerError,
    LedgerFullError,
    LedgerUnsafeError,
    LedgerVersionError,
)
from reprocess.ledger import migrate, server_schema
from reprocess.ledger.address import Server
from reprocess.ledger.driver import POSTGRES, STREAMED_AT_ONCE, Cursor
from reprocess.ledger.sites import named
from reprocess.ledger.together import HELD_MAX, Held, told

POOL_SIZE: Final = 8
POOL_OVERFLOW: Final = 8
CONNECT_S: Final = 5
"""How long a connection may take to be made."""
LOCK_MS: Final = 5_000
"""How long a writer waits for another one, as on SQLite."""
STATEMENT_MS: Final = 60_000
"""How long one statement may run; what walks over the whole record lifts it."""
IDLE_MS: Final = 30_000
"""How long a transaction may do nothing: a node that hangs in the middle of one lets the others go on."""
PATIENCE_S: Final = STATEMENT_MS / 1000 + 5
"""How long an answer is waited for: a server that is stopped cannot end its own statements (our choice)."""
WAKE_S: Final = 0.1
"""How often a wait looks whether the program is to end, as psycopg itself does it."""
PREPARED_AFTER: Final = 2
PREPARED_MAX: Final = 300
"""The server keeps the plan of a statement from its second use on; there are some hundred statements."""
OPTIONS: Final[Mapping[str, Any]] = {
    "connect_timeout": CONNECT_S,
    "keepalives": 1,
    "keepalives_idle": 30,
    "keepalives_interval": 10,
    "keepalives_count": 3,
    "tcp_user_timeout": 30_000,
    "application_name": "reprocess",
    "client_encoding": "UTF8",
}
DURABLE: Final = ("on", "remote_apply")
"""What `synchronous_commit` may be: less than that loses a step at a power cut (measured: up to a second of them)."""

NOWHERE: Final = "-"
"""No site's name: whoever may see no site sees what belongs to none."""

_SETTLE: Final = (
    "SELECT set_config('statement_timeout', %(statement)s, false), set_config('lock_timeout', %(lock)s, false),"
    " set_config('idle_in_transaction_session_timeout', %(idle)s, false), set_config('reprocess.sites', '*', false),"
    " set_config('TimeZone', 'UTC', false), set_config('synchronous_commit',"
    " CASE WHEN current_setting('synchronous_commit') = 'remote_apply' THEN 'remote_apply' ELSE 'on' END, false)"
)
_SETTINGS: Final = (
    "SELECT current_setting('fsync'), current_setting('full_page_writes'), current_setting('synchronous_commit'),"
    " current_setting('server_encoding'), pg_is_in_recovery(), pg_postmaster_start_time()::text,"
    " (SELECT oid FROM pg_database WHERE datname = current_database())"
)
FOLLOWS: Final = (
    "The server only follows another one and may be behind it; nothing was recorded. "
    "Name the other one, or wait until this one takes over."
)
NO_HEAD: Final = "The head of the feed is missing: the record is damaged. Nothing was recorded."
_BEGIN_WRITING: Final = "BEGIN ISOLATION LEVEL READ COMMITTED; SELECT version, last FROM feed_head FOR UPDATE"


@dataclass(frozen=True, slots=True)
class _Text:
    """Is a statement as psycopg takes it.

    Attributes:
        numbered: whether its parameters are `?1`, `?2`.
        asks: whether rows come back.
    """

    text: str
    numbered: bool
    asks: bool


_PARTS: Final = re.compile(r"'(?:[^']|'')*'|\?\d+|\?|(?<![:\w]):[a-z_]+|%")


_ASKING: Final = re.compile(r"^(SELECT|WITH|FETCH)|\bRETURNING\b")


@lru_cache(maxsize=1000)
def translated(text: str) -> _Text:
    """Returns a statement with `?`, `?1` and `:name` parameters in psycopg's words; texts in quotes stay."""
    text = POSTGRES.get(text, text)

    def part(found: re.Match[str]) -> str:
        word = found.group()
        if word.startswith("'") or word == "%":
            return word.replace("%", "%%")
        if word == "?":
            return "%s"
        return f"%(p{word[1:]})s" if word.startswith("?") else f"%({word[1:]})s"

    return _Text(_PARTS.sub(part, text), bool(re.search(r"\?\d", text)), bool(_ASKING.search(text)))


def _told(rows: list[Any]) -> str:
    """Returns rows as the text that one statement takes.

    Raises:
        DataError: a number or a text among them is none that a database keeps.
    """
    try:
        return told(rows)
    except TypeError as fault:
        raise psycopg.DataError(str(fault)) from fault


def _given(found: _Text, parameters: Any) -> Any:
    if not found.numbered:
        return parameters
    return {f"p{place}": value for place, value in enumerate(parameters, 1)}


class ServerCursor(psycopg.Cursor[Any]):
    """Is psycopg's cursor, which takes statements as SQLite's does and gives values as SQLite's does."""

    def __init__(self, connection: psycopg.Connection[Any], **more: Any) -> None:
        super().__init__(connection, **more)
        self.format = psycopg.pq.Format.BINARY
        self._holds = False

    def execute(self, query: Any, params: Any = (), **more: Any) -> Self:
        """Runs one statement; a writing transaction holds those whose answer nobody fetches."""
        found, connection = translated(query), self._own
        self._holds = connection.piped is not None and not found.asks
        if self._holds:
            connection.hold(query, params)
            return self
        connection.send()
        super().execute(found.text, _given(found, params), **more)
        if connection.piped is not None:
            connection.piped.sync()
        return self

    def executemany(self, query: Any, params_seq: Iterable[Any], **more: Any) -> None:
        """Runs one statement for each set of parameters."""
        found, connection = translated(query), self._own
        self._holds = connection.piped is not None
        if self._holds:
            for one in params_seq:
                connection.hold(query, one)
            return
        super().executemany(found.text, [_given(found, one) for one in params_seq], **more)

    @property
    def rowcount(self) -> int:
        """Returns how many rows the last statement changed; one that is held is sent, and waited for."""
        return self._own.sent_apart() if self._holds else super().rowcount

    @property
    def _own(self) -> Any:
        return self.connection

    def run(self, text: str) -> None:
        """Runs a statement that has no parameters, word for word."""
        self._own.send()
        super().execute(text)


class _Portions:
    """Is a query whose rows are fetched in portions; it ends with the transaction at the latest."""

    def __init__(self, cursor: ServerCursor, name: str) -> None:
        self._cursor = cursor
        self._name = name

    def execute(self, text: str, parameters: Any = ()) -> _Portions:
        """Runs one query."""
        self._cursor.execute(f"DECLARE {self._name} NO SCROLL CURSOR FOR {POSTGRES.get(text, text)}", parameters)
        return self

    def __iter__(self) -> Iterator[Any]:
        while portion := self._cursor.execute(f"FETCH {STREAMED_AT_ONCE} FROM {self._name}").fetchall():
            yield from portion

    def close(self) -> None:
        """Ends the query, where the transaction still stands."""
        connection = self._cursor.connection
        if not connection.closed and connection.info.transaction_status == TransactionStatus.INTRANS:
            self._cursor.execute(f"CLOSE {self._name}")
        self._cursor.close()


class ServerConnection(psycopg.Connection[Any]):
    """Is a connection that knows the head of the feed it locked, and for which months there are tables.

    Attributes:
        head: (version, last feed number), read when the lock was taken.
        months: the first instants of the months that are known to have a table.
        portions: how many cursors with portions were made, so that each has a name of its own.
        piping: what ends the pipeline, while statements are sent together.
        piped: the pipeline itself.
        scribe: the cursor of those of them that nobody fetches from.
        held: those that were not sent yet.
        patience_s: how long an answer is waited for; None for as long as it takes.
        life: tells one run of a server and one database from another: after a failover to a copy that lags, or after a
            restore, the record may have gone on from an earlier entry to the same number.
    """

    head: tuple[int, int] = (0, 0)
    patience_s: float | None = PATIENCE_S
    life: tuple[object, ...] = ()
    portions: int = 0
    piping: Any = None
    piped: Any = None
    scribe: psycopg.Cursor[Any] | None = None

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.months: set[tuple[int, int]] = set()
        self.held = Held()

    def portioned(self) -> _Portions:
        """Returns a cursor whose rows are fetched in portions, inside the transaction that is open."""
        self.portions += 1
        return _Portions(self.cursor(), f"portions_{self.portions}")  # type: ignore[arg-type]

    def make_room(self, cursor: Cursor, at_us: int) -> None:
        """Makes sure that the month of an instant has a table; it is made before the first entry of the month."""
        if any(begins <= at_us < ends for begins, ends in self.months):
            return
        begins, ends = cursor.execute("SELECT begins, ends FROM make_month(?)", (at_us,)).fetchone()
        self.months.add((begins, ends))

    def limit(self, cursor: Cursor, sites: Collection[str]) -> None:
        """Shows the rest of the transaction that is open the rows of these sites alone.

        Raises:
            WrongUseError: a name could not be a site's.
        """
        told = ",".join(named(sites)) or NOWHERE
        cursor.execute("SELECT set_config('reprocess.sites', ?, true)", (told,)).fetchone()

    def wait(self, gen: Any, interval: float = WAKE_S, timeout: float | None = None) -> Any:
        """Returns what the server answers; a connection that it does not answer on in time is closed."""
        try:
            return super().wait(gen, interval, self.patience_s if timeout is None else timeout)
        except errors._WaitTimeout:  # noqa: SLF001 - psycopg 3.3 has no public name for it
            self.close()
            raise

    def take_time(self, cursor: Cursor) -> None:
        """Lifts the deadlines of the transaction that is open."""
        self.patience_s = None
        cursor.execute(
            "SELECT set_config('statement_timeout', '0', true),"
            " set_config('idle_in_transaction_session_timeout', '0', true)"
        ).fetchone()

    def pipe(self) -> None:
        """Sends statements together from now on until the transaction ends."""
        self.piping = self.pipeline()
        self.piped = self.piping.__enter__()
        self.scribe = psycopg.Cursor(self)

    def hold(self, text: str, parameters: Any) -> None:
        """Holds one statement until something is read or the transaction ends; too many of them are sent before.

        The server waits meanwhile as for a node that does nothing, so that its deadline for one that hangs counts.
        """
        if len(self.held) >= HELD_MAX:
            self.send()
            self.piped.sync()
        self.held.put(text, parameters)

    def send(self) -> None:
        """Sends what is held, without waiting for its answer; whoever reads or commits next waits for it, too."""
        if not self.held:
            return
        scribe = self.scribe or psycopg.Cursor(self)
        for group in self.held.take():
            many = group.many
            found = translated(many.text if many is not None else group.text)
            rows = [(_told(group.rows),)] if many is not None else [_given(found, row) for row in group.rows]
            for row in rows:
                scribe.execute(found.text, row)

    def ask_together(self, questions: Sequence[tuple[str, list[str], tuple[object, ...]]]) -> list[list[Any]]:
        """Returns the rows of questions about several names each; in a writing transaction they go in one message."""
        self.send()
        cursors = [psycopg.Cursor(self) for _ in questions]
        for cursor, (text, names, more) in zip(cursors, questions, strict=True):
            cursor.execute(translated(text).text, (names, *more), binary=True)
        if self.piped is not None:
            self.piped.sync()
        return [cursor.fetchall() for cursor in cursors]

    def sent_apart(self) -> int:
        """Returns how many rows the statement that was held last changed."""
        self.held.put_apart()
        self.send()
        self.piped.sync()
        return self.scribe.rowcount if self.scribe is not None else 0

    def lock_head(self) -> None:
        """Begins a transaction beside which nobody else writes entries."""
        cursor = psycopg.Cursor(self)
        cursor.execute(_BEGIN_WRITING)
        cursor.nextset()
        head = cursor.fetchone()
        if head is None:
            raise LedgerVersionError(NO_HEAD)
        self.head = head

    def finish(self) -> str | None:
        """Commits, once everything that was sent is done, and returns what the server calls it.

        The commit is sent with what it commits; where any of that failed, the server leaves the commit out.
        """
        self.send()
        own = self.scribe or psycopg.Cursor(self)
        own.execute("COMMIT")
        self.end_pipe()
        return own.statusmessage

    def end_pipe(self) -> None:
        """Ends the pipeline, where there is one, once everything that was sent is answered."""
        self.held.take()
        piping, self.piping, self.piped, self.scribe = self.piping, None, None, None
        if piping is not None:
            piping.__exit__(None, None, None)


class Postgres:
    """Is the pool of connections to one database, and what PostgreSQL does in its own way.

    Attributes:
        name: how the database is called in sentences.
        connections: how many there can be at once.
        faults: what the driver raises.
    """

    connections = POOL_SIZE + POOL_OVERFLOW
    faults: Final = (psycopg.Error,)

    def __init__(self, address: str, name: str, password: str | None = None) -> None:
        self.address = address
        self.name = name
        self._password = password
        self.pool = self._new_pool()
        self._turn = threading.Lock()

    def _new_pool(self) -> QueuePool:
        return QueuePool(
            self._connect,
            pool_size=POOL_SIZE,
            max_overflow=POOL_OVERFLOW,
            timeout=CONNECT_S * 2,
            reset_on_return=None,
        )

    def _connect(self) -> Any:
        secret: dict[str, Any] = {"password": self._password} if self._password is not None else {}
        try:
            connection = ServerConnection.connect(self.address, autocommit=True, **OPTIONS, **secret)
        except psycopg.OperationalError as fault:
            message = f"{self.name} cannot be reached; nothing was recorded. Try again."
            raise LedgerBusyError(message) from fault
        connection.cursor_factory = ServerCursor
        connection.prepare_threshold = PREPARED_AFTER
        connection.prepared_max = PREPARED_MAX
        connection.adapters.register_dumper(int, Int8Dumper)
        connection.adapters.register_dumper(int, Int8BinaryDumper)
        try:
            _settle(connection)
        except BaseException:
            connection.close()
            raise
        return connection

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Lets the threads of this process write one after the other, so that what one knows the next one knows.

        Raises:
            LedgerBusyError: the others took too long.
        """
        if not self._turn.acquire(timeout=LOCK_MS / 1000):
            message = f"Too many requests wait for {self.name}; nothing was recorded. Try again."
            raise LedgerBusyError(message)
        try:
            yield
        finally:
            self._turn.release()

    def _begun(self, text: str | None, *, writing: bool = False) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor of it, after a first statement where there is one.

        Where the connection was lost since it was used last, nothing was asked yet, and a new one is made.
        """
        for lost_before in (False, True):
            pooled = self.pool.connect()
            driver: Any = pooled.driver_connection
            driver.patience_s = PATIENCE_S
            try:
                cursor = driver.cursor()
                if writing:
                    driver.lock_head()
                elif text is not None:
                    cursor.run(text)
            except psycopg.OperationalError:
                gone = driver.closed or driver.broken
                self.take_back(driver)
                pooled.close()
                if not gone or lost_before:
                    raise
                self.dispose()
            except BaseException:
                self.take_back(driver)
                pooled.close()
                raise
            else:
                if writing:
                    driver.pipe()
                return pooled, cursor
        raise AssertionError(text)

    def begun(self, text: str | None) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor of it, after a first statement where there is one."""
        return self._begun(text)

    def reading(self) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor in one read transaction."""
        return self._begun("BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    def writing(self) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor in a transaction beside which nobody else writes entries."""
        return self._begun(None, writing=True)

    def claiming(self) -> tuple[Any, Any]:
        """Returns a pooled connection and a cursor in a transaction beside which others write entries."""
        return self._begun("BEGIN ISOLATION LEVEL READ COMMITTED")

    def take_back(self, driver: Any) -> None:
        """Takes back what was not committed; a connection that cannot is closed."""
        try:
            _drained(driver)
            if driver.info.transaction_status != TransactionStatus.IDLE:
                driver.months.clear()
                driver.rollback()
        except psycopg.Error:
            driver.close()

    def commit(self, cursor: Any, path: Path) -> None:
        """Commits, and does not say "nothing was recorded" where the answer did not come: an error is not a no."""
        driver = cursor.connection
        try:
            status = driver.finish()
        except psycopg.OperationalError as fault:
            if not (driver.closed or driver.broken):
                raise
            self.dispose()
            message = (
                f"{self.name} was lost while this was being recorded; whether it is on record is not certain. "
                "Look at its history, or send it again with the same key: it is recorded once."
            )
            raise LedgerError(message, path=str(path), again=True) from fault
        if status != "COMMIT":
            message = f"{self.name} did not keep what was written; nothing was recorded."
            raise LedgerError(message, path=str(path))

    def touch(self, cursor: Cursor) -> None:
        """Tells other connections that something beside the entries is written, so that they forget what they know."""
        cursor.execute("UPDATE feed_head SET version = version + 1")

    def hurry(self, cursor: Cursor) -> None:
        """Does nothing: whoever is handed the connection next would commit without waiting for the disk, too."""
        del cursor

    def settle(self, cursor: Any) -> bool:
        """Lets the rows of erased names go from their table's file; returns False where they may still be in it.

        The file is made anew, since VACUUM alone leaves their bytes in its pages. A role that may not is told so by a
        warning, not by an error.
        """
        warnings: list[Any] = []
        cursor.connection.add_notice_handler(warnings.append)
        try:
            cursor.run("VACUUM (FULL) wearer_name")
        except errors.LockNotAvailable:
            return False
        finally:
            cursor.connection.remove_notice_handler(warnings.append)
        return not warnings

    def dispose(self) -> None:
        """Closes every connection that nobody uses."""
        self.pool.dispose()
        self.pool = self._new_pool()

    def in_our_words(self, fault: Exception) -> Exception:
        """Returns a fault as one of ours, or as it is where the program itself is wrong."""
        return in_our_words(fault, self.name)


def create(place: Server) -> Postgres:
    """Returns a database in which the owner's role has made the empty record; the service's role works with it.

    Raises:
        LedgerError: no owner is named, it cannot be reached, or there is a record already.
    """
    if place.owner is None:
        message = "Founding a department on a server takes the owner's address too (setting `owner`)."
        raise LedgerError(message)
    if place.key_file.exists():
        message = f"{place.key_file} exists already; nothing was changed."
        raise LedgerError(message, path=str(place.key_file))
    with _as_owner(place) as cursor:
        if cursor.execute("SELECT to_regclass('about')").fetchone()[0] is not None:
            message = f"{place.database} holds a record already; nothing was changed."
            raise LedgerError(message)
        server_schema.create(cursor, place.role)
        migrate.begin(cursor)
    database = Postgres(place.address, place.database, place.password)
    try:
        with _in_use(database) as cursor:
            server_schema.must_be_bounded(cursor)
    except BaseException:
        take_down(place)
        raise
    return database


def opened(place: Server) -> Postgres:
    """Returns the database of an existing record, once it was found that it is kept as it must be.

    Raises:
        LedgerVersionError: it is no record, or its schema is older and no owner is named who may change it.
        LedgerUnsafeError: the settings, rights or triggers that keep it are not as they must be.
    """
    database = Postgres(place.address, place.database, place.password)
    with _in_use(database) as cursor:
        number = migrate.schema_number(cursor)
        if number < len(migrate.MIGRATIONS):
            _brought_forward(place, number)
        server_schema.must_be_bounded(cursor)
        server_schema.make_months(cursor)
    return database


def _brought_forward(place: Server, number: int) -> None:
    """Lets the owner's role bring an older schema to this program's."""
    if place.owner is None:
        message = (
            f"The schema of {place.database} is older than this program. "
            "Open it once with the owner's address (setting `owner`)."
        )
        raise LedgerVersionError(message, schema=number)
    with _as_owner(place) as cursor:
        migrate.to_current(cursor, fresh=False)
        server_schema.make_functions(cursor)
        server_schema.secure(cursor, place.role)


def take_down(place: Server) -> None:
    """Removes the tables that an unfinished founding made; entries that stand stay."""
    with _as_owner(place) as cursor:
        server_schema.drop(cursor)


@contextmanager
def _in_use(database: Postgres) -> Iterator[Any]:
    """Yields a cursor of a database that was opened just now; it is closed again when what is done with it fails."""
    try:
        pooled, cursor = database.begun(None)
        try:
            yield cursor
        finally:
            pooled.close()
    except (psycopg.Error, PoolTimeoutError) as fault:
        database.dispose()
        raise database.in_our_words(fault) from fault
    except BaseException:
        database.dispose()
        raise


@contextmanager
def _as_owner(place: Server) -> Iterator[Any]:
    """Yields a cursor of the owner's role inside one transaction beside which no other owner works."""
    try:
        connection = ServerConnection.connect(place.owner or "", autocommit=True, **OPTIONS)
        with closing(connection):
            connection.cursor_factory = ServerCursor
            cursor: Any = connection.cursor()
            cursor.run(f"SET lock_timeout = {LOCK_MS}")
            cursor.run("BEGIN")
            cursor.run(f"SELECT pg_advisory_xact_lock({_OWNERS})")
            yield cursor
            cursor.run("COMMIT")
    except psycopg.Error as fault:
        raise in_our_words(fault, place.database) from fault


_OWNERS: Final = 0x5E9_0CE55
"""The number of the lock that owners take, so that two programs migrate one after the other (our choice)."""


def _drained(driver: Any) -> None:
    """Ends a pipeline whose transaction failed; what was sent after the error has no meaning any more."""
    try:
        driver.end_pipe()
    except psycopg.OperationalError:
        raise
    except psycopg.Error:
        return


def _settle(connection: ServerConnection) -> None:
    """Sets deadlines and durability, reads back what a step rests on, and refuses anything else."""
    cursor = psycopg.Cursor(connection)
    asked = {"statement": str(STATEMENT_MS), "lock": str(LOCK_MS), "idle": str(IDLE_MS)}
    cursor.execute(_SETTLE, asked)
    names = ("fsync", "full_page_writes", "synchronous_commit", "server_encoding")
    allowed = (("on",), ("on",), DURABLE, ("UTF8",))
    *seen, follows, began, database = cursor.execute(_SETTINGS).fetchone() or [""] * 7
    connection.life = (began, database)
    cursor.close()
    if follows:
        raise LedgerBusyError(FOLLOWS)
    for name, value, may_be in zip(names, seen, allowed, strict=True):
        if value not in may_be:
            message = f"The server keeps {name} = {value}, not {may_be[0]}; a step might be lost at a power cut."
            raise LedgerUnsafeError(message, setting=name, seen=value)


_BUSY: Final = (
    errors.LockNotAvailable,
    errors.QueryCanceled,
    errors.DeadlockDetected,
    errors.SerializationFailure,
    errors.TooManyConnections,
    errors.IdleInTransactionSessionTimeout,
    errors.CannotConnectNow,
)
_AGAIN: Final = (errors.DeadlockDetected, errors.SerializationFailure)
_FULL: Final = (errors.DiskFull, errors.ReadOnlySqlTransaction)


def in_our_words(fault: Exception, name: str) -> Exception:
    """Returns an error of the server as one sentence that says what happened and that nothing was recorded.

    The server's own words are left out where they could hold a value of a row.
    """
    if isinstance(fault, PoolTimeoutError):
        return LedgerBusyError(f"Too many requests wait for {name}; nothing was recorded. Try again.")
    if isinstance(fault, errors.InsufficientPrivilege):
        return LedgerUnsafeError(f"The role that works with {name} may not do this; nothing was recorded.")
    if isinstance(fault, errors.UndefinedTable | errors.UndefinedColumn):
        return LedgerVersionError(f"{name} is not a department's record, or it is damaged.")
    if isinstance(fault, _FULL):
        what = "is full" if isinstance(fault, errors.DiskFull) else "cannot be written now"
        return LedgerFullError(f"{name} {what}; nothing was recorded.")
    if isinstance(fault, _BUSY):
        again = isinstance(fault, _AGAIN)
        return LedgerBusyError(f"Others keep {name} busy; nothing was recorded. Try again.", again=again)
    if isinstance(fault, psycopg.OperationalError):
        return LedgerBusyError(f"{name} cannot be reached; nothing was recorded. Try again.", again=True)
    if isinstance(fault, psycopg.ProgrammingError):
        return fault
    code = getattr(fault, "sqlstate", None) or type(fault).__name__
    unfit = isinstance(fault, psycopg.DataError)
    what = "cannot keep a text or a number that it was given" if unfit else f"could not be used ({code})"
    return LedgerError(f"{name} {what}; nothing was recorded.")
