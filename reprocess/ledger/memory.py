"""What one connection may remember between its transactions, because nobody else has written since.

SQLite's `data_version` changes for a connection whenever any other connection commits; on PostgreSQL the head of the
feed moves with every entry, and a server that began anew may have begun from an older copy. Either is read inside the
transaction beside which nobody else can commit: while it stands, what this connection last saw and wrote is what is
there. Only what is small and read at every scan is remembered: sites, stations, people, instruments, the standings of
files, badges, the key in use and the last feed number; never items.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

from reprocess.ledger.driver import Cursor, stand_of
from reprocess.record.states import State
from reprocess.terms import StreamKind

REMEMBERED: Final = frozenset(
    {
        StreamKind.SITE,
        StreamKind.STATION,
        StreamKind.PERSON,
        StreamKind.INSTRUMENT,
        StreamKind.WORKFLOW,
        StreamKind.KEY,
    }
)
STREAMS_MAX: Final = 5_000
"""Most streams that a connection remembers (our choice); past it everything is forgotten and read anew."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Is where a stream stands and the digest of its latest entry."""

    number: int
    head: bytes
    state: State


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Is where a person worked since an instant, as it was read when they worked at a site.

    While they work there, nothing they do changes where else they were; at another site it is read anew.
    """

    site: str
    since_us: int
    stations: tuple[tuple[str, int], ...]


@dataclass(slots=True)
class Memory:
    """Is what a connection remembers, valid until anybody else has committed."""

    connection: Any
    version: object = None
    kept: dict[str, Kept] = field(default_factory=dict)
    badges: dict[str, str | None] = field(default_factory=dict)
    feed: int | None = None
    elsewhere: dict[str, Elsewhere] = field(default_factory=dict)

    def begin(self, cursor: Cursor) -> None:
        """Forgets everything when anybody else has committed since; called where nobody else can commit."""
        version, last = stand_of(cursor)
        moved = version != self.version or last not in (None, self.feed)
        if moved or len(self.kept) > STREAMS_MAX:
            self.forget()
        self.version = version
        self.feed = last if last is not None else self.feed

    def forget(self) -> None:
        """Forgets everything."""
        self.version = None
        self.kept.clear()
        self.badges.clear()
        self.elsewhere.clear()
        self.feed = None

    def keep(self, kept: dict[str, Kept], feed: int | None) -> None:
        """Remembers what a transaction that was committed read and wrote."""
        for stream, one in kept.items():
            if stream.partition(":")[0] in REMEMBERED:
                self.kept[stream] = one
        self.feed = feed if feed is not None else self.feed
