"""How far each subscription was handed the record, inside one transaction; and the secrets that sign for it.

A subscription is a cursor over the record and no row for each entry: whatever is on record is to be handed over, the
moment it is, and nothing is written twice. Both tables are working tables and are not rebuilt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.driver import Cursor
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import LAST_US, SECOND_US, subject_of

DELIVERY_LEASE_US: Final = 150 * SECOND_US
"""How long a claim keeps other nodes away from a subscription; longer than its share of a round takes (our choice)."""
NEVER_US: Final = LAST_US
"""When a subscription is tried next that was given up."""
SECRETS_KEPT: Final = 2
"""Secrets that sign at a time: the one in use and, while it is exchanged, the one before."""

BEGIN: Final = (
    "INSERT INTO delivery (subscription, after_feed, attempts, next_us, until_us) VALUES (?, ?, 0, 0, 0)"
    " ON CONFLICT DO NOTHING"
)
RESTART: Final = (
    "INSERT INTO delivery (subscription, after_feed, attempts, next_us, until_us) VALUES (?, ?, 0, 0, 0)"
    " ON CONFLICT (subscription) DO UPDATE SET after_feed = excluded.after_feed, attempts = 0, next_us = 0,"
    " until_us = 0"
)
GOES_ON: Final = "UPDATE delivery SET attempts = 0, next_us = 0 WHERE subscription = ?"
END: Final = "DELETE FROM delivery WHERE subscription = ?"
# On PostgreSQL `FOR UPDATE SKIP LOCKED` stands at its end, so that no node waits for another one's claim.
FREE: Final = (
    "SELECT subscription, after_feed, attempts FROM delivery"
    " WHERE next_us <= :now AND after_feed < :last AND (until_us <= :now OR until_us > :lease)"
    " ORDER BY next_us, subscription LIMIT 1"
)
HOLD: Final = "UPDATE delivery SET until_us = ? WHERE subscription = ?"
SETTLE: Final = (
    "UPDATE delivery SET after_feed = ?, attempts = ?, next_us = ?, until_us = 0, answer = ?, answered_us = ?"
    " WHERE subscription = ? AND after_feed = ? AND until_us = ? RETURNING subscription"
)
"""Settles a claim only where it still is the one that was made: a replay asked for meanwhile is not undone."""
ALL: Final = (
    "SELECT subscription, after_feed, attempts, next_us, answer, answered_us FROM delivery ORDER BY subscription"
)
KEEP_SECRET: Final = "INSERT INTO subscription_secret (subscription, number, sealed, made_us) VALUES (?, ?, ?, ?)"  # noqa: S105
SECRETS: Final = "SELECT number, sealed FROM subscription_secret WHERE subscription = ? ORDER BY number DESC LIMIT ?"
FORGET_SECRETS: Final = "DELETE FROM subscription_secret WHERE subscription = ? AND number <= ?"


@dataclass(frozen=True, slots=True)
class Delivery:
    """Is one subscription that is claimed.

    Attributes:
        after: the last entry that was handed over, or passed over because it was not asked for.
        attempts: how often the one after it was tried.
        until_us: when the claim ends.
    """

    subscription: str
    after: int
    attempts: int
    until_us: int


@dataclass(frozen=True, slots=True)
class Progress:
    """Is how far a subscription is, and what its receiver last said: `taken`, or what kept an entry back."""

    subscription: str
    after: int
    attempts: int
    next_us: int
    answer: str | None
    answered_us: int | None


class Deliveries:
    """Is the side of one transaction that faces the subscribers."""

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor

    def follow(self, entry: Entry) -> None:
        """Does what an entry about a subscription says: begin after it, go back, go on at once, or end."""
        name = subject_of(entry.stream)
        match entry.body:
            case words.SubscriptionMade():
                self._cursor.execute(BEGIN, (name, entry.feed))
            case words.SubscriptionChanged():
                self._cursor.execute(GOES_ON, (name,))
            case words.SubscriptionReplayed():
                self._cursor.execute(RESTART, (name, entry.body.after))
            case words.SubscriptionEnded():
                self._cursor.execute(END, (name,))
                self._cursor.execute(FORGET_SECRETS, (name, LAST_US))
            case _:
                pass

    def waits(self, now_us: int, last_feed: int) -> bool:
        """Tells whether a subscription waits for entries and may be tried now."""
        at = {"now": now_us, "last": last_feed, "lease": now_us + DELIVERY_LEASE_US}
        return self._cursor.execute(FREE, at).fetchone() is not None

    def claim(self, now_us: int, last_feed: int) -> Delivery | None:
        """Returns the subscription that waits longest and may be tried now, and keeps other nodes away from it."""
        until_us = now_us + DELIVERY_LEASE_US
        row = self._cursor.execute(FREE, {"now": now_us, "last": last_feed, "lease": until_us}).fetchone()
        if row is None:
            return None
        self._cursor.execute(HOLD, (until_us, row[0]))
        return Delivery(str(row[0]), int(row[1]), int(row[2]), until_us)

    def settle(
        self, claimed: Delivery, after: int, answer: str, now_us: int, *, attempts: int = 0, next_us: int = 0
    ) -> bool:
        """Ends a claim: how far it came and what is next; returns False where the claim was lost meanwhile."""
        own = (claimed.subscription, claimed.after, claimed.until_us)
        done = self._cursor.execute(SETTLE, (after, attempts, next_us, answer, now_us, *own))
        return done.fetchone() is not None

    def all(self) -> list[Progress]:
        """Returns how far every subscription is, by id."""
        return [Progress(*row) for row in self._cursor.execute(ALL).fetchall()]

    def keep_secret(self, subscription: str, sealed: bytes, made_us: int) -> None:
        """Keeps a new secret, sealed, and forgets all but the one before it."""
        newest = self._cursor.execute(SECRETS, (subscription, 1)).fetchone()
        number = int(newest[0]) + 1 if newest is not None else 1
        self._cursor.execute(KEEP_SECRET, (subscription, number, sealed, made_us))
        self._cursor.execute(FORGET_SECRETS, (subscription, number - SECRETS_KEPT))

    def secrets(self, subscription: str) -> list[bytes]:
        """Returns the sealed secrets of a subscription, the one in use first."""
        return [bytes(row[1]) for row in self._cursor.execute(SECRETS, (subscription, SECRETS_KEPT)).fetchall()]
