"""Somebody with the database but not the key: edits, deletions, insertions, and digests computed anew."""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from reprocess.ledger.address import Server
from reprocess.ledger.server_schema import REFUSING
from reprocess.ledger.server_schema import TRIGGERS as ON_SERVER
from reprocess.ledger.statements import ENTRY_COLUMNS
from reprocess.ledger.tables import TRIGGERS
from reprocess.record.chain import digest_of, mac_of
from tests.ledger.raw import raw

ANOTHER_KEY = b"another key of thirty-two bytes."
COLUMNS = ", ".join(ENTRY_COLUMNS)
DIGEST = ENTRY_COLUMNS.index("digest")
KEYS = "feed, stream, number, request_key, request_part, recorded_us"
SERVER_NAMES = {table: [name for own, name, *_ in ON_SERVER if own == table] for table in REFUSING}
NAMES = ("entry_never_changes", "entry_never_goes", "entry_never_replaced")


class Forger:
    """Is somebody who writes into the database directly, and puts back afterwards what would give that away."""

    def __init__(self, raw: Any) -> None:
        self.raw = raw

    def run(self, sql: str, *values: Any) -> None:
        """Runs one statement."""
        self.raw.execute(sql, values)

    def row(self, feed: int) -> tuple[Any, ...]:
        """Returns a whole entry."""
        found: tuple[Any, ...] = self.raw.execute(f"SELECT {COLUMNS} FROM entry WHERE feed = ?", (feed,)).fetchone()
        return found

    def insert(self, row: tuple[Any, ...]) -> None:
        """Writes a whole entry."""
        places = ", ".join("?" * len(row))
        self.raw.execute(f"INSERT INTO entry ({COLUMNS}) VALUES ({places})", row)

    def rehash(self, stream: str, key: bytes | None) -> None:
        """Computes every digest of a stream anew, and every MAC with a key; with None the old MACs stay."""
        prev = bytes(32)
        rows = self.raw.execute(f"SELECT {COLUMNS} FROM entry WHERE stream = ? ORDER BY number", (stream,)).fetchall()
        for row in rows:
            hashed = (*row[: DIGEST - 1], prev)
            digest = digest_of(hashed)
            mac = row[DIGEST + 1] if key is None else mac_of(digest, key)
            self.run("UPDATE entry SET prev = ?, digest = ?, mac = ? WHERE feed = ?", prev, digest, mac, row[0])
            prev = digest
        self.run("UPDATE standing SET head = ? WHERE stream = ?", prev, stream)


@contextmanager
def forging(place: Path | Server) -> Iterator[Forger]:
    """Yields somebody who has taken the triggers away, and puts them back word for word."""
    with _on_server(place) if isinstance(place, Server) else _in_file(place) as forger:
        yield forger


@contextmanager
def _on_server(place: Server) -> Iterator[Forger]:
    with raw(place) as cursor:
        cursor.run("ALTER TABLE entry DISABLE TRIGGER USER")
        for name in ("counted_from_one", "answer_with_part_0"):
            cursor.run(f"ALTER TABLE entry DROP CONSTRAINT IF EXISTS {name}")
        yield Forger(cursor)
        cursor.run("ALTER TABLE entry_key DISABLE TRIGGER USER")
        cursor.run("DELETE FROM entry_key")
        cursor.run(f"INSERT INTO entry_key ({KEYS}) SELECT {KEYS} FROM entry ORDER BY feed ON CONFLICT DO NOTHING")
        cursor.run("UPDATE feed_head SET last = (SELECT coalesce(max(feed), 0) FROM entry)")
        for table in ("entry", "entry_key"):
            for name in SERVER_NAMES[table]:
                cursor.run(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}")


@contextmanager
def _in_file(path: Path) -> Iterator[Forger]:
    own = sqlite3.connect(path, isolation_level=None)
    own.execute("PRAGMA synchronous = OFF")
    own.execute("PRAGMA ignore_check_constraints = ON")
    own.execute("BEGIN")
    for name in NAMES:
        own.execute(f"DROP TRIGGER {name}")
    yield Forger(own)
    for text in TRIGGERS:
        own.execute(text)
    own.execute("COMMIT")
    own.close()
