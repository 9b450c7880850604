"""What one connection may remember between its transactions, because nobody else has written since.

SQLite's `data_version` changes for a connection whenever any other connection commits. It is read inside
BEGIN IMMEDIATE, where nobody else can commit: while it stands, what this connection last saw and wrote is what is
there. Only what is small and read at every scan is remembered: sites, stations, people, instruments, the standings of
files, badges and the last feed number; never items.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field
from typing import Final

from reprocess.record.states import State
from reprocess.terms import StreamKind

REMEMBERED: Final = frozenset(
    {StreamKind.SITE, StreamKind.STATION, StreamKind.PERSON, StreamKind.INSTRUMENT, StreamKind.WORKFLOW}
)
STREAMS_MAX: Final = 5_000
"""Most streams that a connection remembers (our choice); past it everything is forgotten and read anew."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Is where a stream stands and the digest of its latest entry."""

    number: int
    head: bytes
    state: State


@dataclass(slots=True)
class Memory:
    """Is what a connection remembers, valid for one `data_version` only."""

    connection: sqlite3.Connection
    version: int = -1
    kept: dict[str, Kept] = field(default_factory=dict)
    badges: dict[str, str | None] = field(default_factory=dict)
    feed: int | None = None

    def begin(self, cursor: sqlite3.Cursor) -> None:
        """Forgets everything when anybody else has committed since; called inside BEGIN IMMEDIATE."""
        version = int(cursor.execute("PRAGMA data_version").fetchone()[0])
        if version != self.version or len(self.kept) > STREAMS_MAX:
            self.forget()
            self.version = version

    def forget(self) -> None:
        """Forgets everything."""
        self.version = -1
        self.kept.clear()
        self.badges.clear()
        self.feed = None

    def keep(self, kept: dict[str, Kept], feed: int | None) -> None:
        """Remembers what a transaction that was committed read and wrote."""
        for stream, one in kept.items():
            if stream.partition(":")[0] in REMEMBERED:
                self.kept[stream] = one
        self.feed = feed if feed is not None else self.feed
