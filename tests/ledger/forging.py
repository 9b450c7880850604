"""Somebody with the database but not the key: edits, deletions, insertions, and digests computed anew."""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from reprocess.ledger.statements import ENTRY_COLUMNS
from reprocess.ledger.tables import TRIGGERS
from reprocess.record.chain import digest_of, mac_of

ANOTHER_KEY = b"another key of thirty-two bytes."
COLUMNS = ", ".join(ENTRY_COLUMNS)
DIGEST = ENTRY_COLUMNS.index("digest")
NAMES = ("entry_never_changes", "entry_never_goes", "entry_never_replaced")


class Forger:
    """Is somebody who writes into the database directly and puts the triggers back afterwards."""

    def __init__(self, raw: sqlite3.Connection) -> None:
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
def forging(path: Path) -> Iterator[Forger]:
    """Yields somebody who has taken the triggers away, and puts them back word for word."""
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("PRAGMA synchronous = OFF")
    raw.execute("PRAGMA ignore_check_constraints = ON")
    raw.execute("BEGIN")
    for name in NAMES:
        raw.execute(f"DROP TRIGGER {name}")
    yield Forger(raw)
    for text in TRIGGERS:
        raw.execute(text)
    raw.execute("COMMIT")
    raw.close()
