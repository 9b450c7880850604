"""What is still to be handed to a channel outside, inside one transaction: put there, claimed, tried again, done.

A row is put in with the entry that the reminder rang and goes with the entry that says what became of it, so that a
crash at any instant leaves either the row or the entry. It is a working table and is not rebuilt.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from reprocess.ledger.driver import Cursor, differs
from reprocess.terms import SECOND_US

POST_LEASE_US: Final = 120 * SECOND_US
"""How long a claim keeps other nodes away from a post; longer than a round of them may take (our choice)."""

PUT: Final = (
    "INSERT INTO post (key, channel, level, site, message, attempts, next_us, until_us)"
    " VALUES (?, ?, ?, ?, ?, 0, ?, 0) ON CONFLICT DO NOTHING"
)
FREE: Final = (
    "SELECT key, channel, level, site, message, attempts FROM post"
    " WHERE next_us <= :now AND (until_us <= :now OR until_us > :lease)"
    " ORDER BY next_us, key, level, channel LIMIT :most"
)
FREE_TO_CLAIM: Final = differs(f"{FREE} ", f"{FREE} FOR UPDATE SKIP LOCKED")
"""On a server two rounds claim at the same time; what one of them has in hand the other leaves."""
HOLD: Final = "UPDATE post SET until_us = ? WHERE key = ? AND channel = ? AND level = ?"
LATER: Final = (
    "UPDATE post SET attempts = attempts + 1, next_us = ?, until_us = 0 WHERE key = ? AND channel = ? AND level = ?"
)
DROP: Final = "DELETE FROM post WHERE key = ? AND channel = ? AND level = ?"
WAITING: Final = "SELECT count(*), min(next_us) FROM post"


@dataclass(frozen=True, slots=True)
class Post:
    """Is one reminder for one channel outside.

    Attributes:
        level: how far up its chain the reminder was; 0 when it rang.
        site: the site in whose stream its fate is recorded.
        message: what is handed over, as JSON.
        attempts: how often it was tried before.
    """

    key: str
    channel: str
    level: int
    site: str
    message: str
    attempts: int = 0


class Posts:
    """Is the side of one transaction that faces the channels outside."""

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor

    def put(self, posts: Iterable[Post], now_us: int) -> None:
        """Keeps what is to be handed over from now on."""
        rows = [(one.key, one.channel, one.level, one.site, one.message, now_us) for one in posts]
        self._cursor.executemany(PUT, rows)

    def claim(self, now_us: int, most: int) -> list[Post]:
        """Returns what may be tried now, the oldest first, and keeps other nodes away from it for a lease."""
        at = {"now": now_us, "lease": now_us + POST_LEASE_US, "most": most}
        found = [Post(*row) for row in self._cursor.execute(FREE_TO_CLAIM, at).fetchall()]
        until_us = now_us + POST_LEASE_US
        self._cursor.executemany(HOLD, [(until_us, one.key, one.channel, one.level) for one in found])
        return found

    def later(self, post: Post, next_us: int) -> None:
        """Counts one attempt and lets the next one be made from an instant on."""
        self._cursor.execute(LATER, (next_us, post.key, post.channel, post.level))

    def drop(self, post: Post) -> None:
        """Ends a post: what became of it is on record."""
        self._cursor.execute(DROP, (post.key, post.channel, post.level))

    def waiting(self) -> tuple[int, int | None]:
        """Returns how many posts wait, and when the first of them is tried next."""
        count, next_us = self._cursor.execute(WAITING).fetchone()
        return int(count), next_us
