"""The supervisor's queue: what is unusual and waits for somebody to look at it; a projection of the entries (D14)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.driver import Cursor
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.reviewing import FLAG, OVERRIDE, QUEUED_KINDS, REFUSED, rules_of, sort_of

KINDS: Final = (
    *QUEUED_KINDS,
    words.EntryReviewed.kind,
    words.RefusalsReviewed.kind,
    words.FlagSettled.kind,
)
"""The kinds of entry that the queue is made from, besides those of which only some count."""
SOME: Final = (
    "(kind IN ('step-done', 'dwell-ended') AND body LIKE '%\"evidence\":\"attested\"%')"
    " OR (kind = 'wear-step-done' AND body LIKE '%\"strayed\":true%')"
)
"""Which entries of the frequent kinds count."""
LISTED_MAX: Final = 500
"""Most rows of one list (our choice)."""

_COLUMNS: Final = "feed, stream, number, kind, sort, at_us, actor, station, rules, reviewed_feed"
INSERT: Final = (
    "INSERT INTO review (feed, stream, number, kind, sort, at_us, actor, station, rules, about)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"
)
_REVIEWED: Final = "UPDATE review SET reviewed_feed = ? WHERE feed = ? AND reviewed_feed IS NULL"
_REFUSALS_REVIEWED: Final = "UPDATE review SET reviewed_feed = ? WHERE reviewed_feed IS NULL AND sort = ? AND feed <= ?"
_SETTLED: Final = (
    "UPDATE review SET reviewed_feed = ? WHERE reviewed_feed IS NULL AND sort = ? AND stream = ? AND about = ?"
)
_WAITING: Final = f"SELECT {_COLUMNS} FROM review WHERE reviewed_feed IS NULL AND sort <> ? ORDER BY feed LIMIT ?"  # noqa: S608
_ONE: Final = f"SELECT {_COLUMNS} FROM review WHERE feed = ?"  # noqa: S608
_REFUSED: Final = (
    "SELECT rules, station, count(*), max(feed) FROM review WHERE reviewed_feed IS NULL AND sort = ?"
    " GROUP BY rules, station ORDER BY count(*) DESC, rules, station LIMIT ?"
)
_OVERRIDES: Final = "SELECT feed FROM review WHERE sort = ? AND at_us >= ? ORDER BY feed"
_OLDEST: Final = (
    "SELECT station, min(at_us), min(feed), count(*) FROM review WHERE reviewed_feed IS NULL AND sort <> ?"
    " GROUP BY station ORDER BY station"
)
_FLAGS: Final = "SELECT feed FROM review WHERE reviewed_feed IS NULL AND sort = ? ORDER BY feed"


@dataclass(frozen=True, slots=True)
class Waiting:
    """Is one entry of the queue.

    Attributes:
        feed: its number in the whole record, by which it is reviewed.
        rules: the rules that it is about.
        reviewed_feed: the entry with which it was reviewed, or None while it waits.
    """

    feed: int
    stream: str
    number: int
    kind: str
    sort: str
    at_us: int
    actor: str | None
    station: str | None
    rules: tuple[str, ...]
    reviewed_feed: int | None


@dataclass(frozen=True, slots=True)
class Refusals:
    """Is how often one station refused under the same rules since somebody last looked."""

    rules: tuple[str, ...]
    station: str | None
    times: int
    last_feed: int


@dataclass(frozen=True, slots=True)
class Oldest:
    """Is how much waits from one station, and since when."""

    station: str | None
    at_us: int
    feed: int
    waiting: int


def project(cursor: Cursor, entry: Entry) -> None:
    """Brings the queue up to date with one entry."""
    body = entry.body
    sort = sort_of(body)
    if sort is not None:
        about = body.entry if isinstance(body, words.StepFlagged) else None
        rules = " ".join(rules_of(body))
        envelope = entry.envelope
        row = (entry.feed, entry.stream, entry.number, entry.kind, sort, entry.at_us, envelope.actor)
        cursor.execute(INSERT, (*row, envelope.station, rules, about))
    elif isinstance(body, words.EntryReviewed):
        cursor.execute(_REVIEWED, (entry.feed, body.feed))
    elif isinstance(body, words.RefusalsReviewed):
        cursor.execute(_REFUSALS_REVIEWED, (entry.feed, REFUSED, body.until_feed))
    elif isinstance(body, words.FlagSettled):
        cursor.execute(_SETTLED, (entry.feed, FLAG, entry.stream, body.entry))


class Reviews:
    """Is the queue's side of one transaction."""

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor

    def waiting(self, most: int = LISTED_MAX) -> list[Waiting]:
        """Returns what waits, refusals left out, oldest first, at most so many."""
        return [_row(row) for row in self._cursor.execute(_WAITING, (REFUSED, most))]

    def one(self, feed: int) -> Waiting | None:
        """Returns one entry of the queue, reviewed or not; None where that entry never was in it."""
        row = self._cursor.execute(_ONE, (feed,)).fetchone()
        return None if row is None else _row(row)

    def refusals(self) -> list[Refusals]:
        """Returns the refusals since somebody last looked, by rules and station, the most frequent first."""
        found = self._cursor.execute(_REFUSED, (REFUSED, LISTED_MAX))
        return [Refusals(tuple(rules.split()), station, times, last) for rules, station, times, last in found]

    def overrides(self, since_us: int) -> list[int]:
        """Returns the overrides since an instant, as numbers of the whole record, oldest first."""
        return [int(row[0]) for row in self._cursor.execute(_OVERRIDES, (OVERRIDE, since_us))]

    def flags(self) -> list[int]:
        """Returns the steps flagged for a competency that wait, as numbers of the whole record, oldest first."""
        return [int(row[0]) for row in self._cursor.execute(_FLAGS, (FLAG,))]

    def oldest(self) -> list[Oldest]:
        """Returns what waits, refusals left out, by the station that it comes from."""
        return [Oldest(*row) for row in self._cursor.execute(_OLDEST, (REFUSED,))]


def _row(row: tuple[int, str, int, str, str, int, str | None, str | None, str, int | None]) -> Waiting:
    feed, stream, number, kind, sort, at_us, actor, station, rules, reviewed_feed = row
    return Waiting(feed, stream, number, kind, sort, at_us, actor, station, tuple(rules.split()), reviewed_feed)
