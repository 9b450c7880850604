"""The tables, as SQLAlchemy Core: the entries, which only grow, and what is projected from them.

Everything but `entry`, `wearer_name`, `subscription_secret` and `about` can be rebuilt from the entries; `claim`,
`post` and `delivery` are working tables and are not.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

METADATA: Final = MetaData()

EVERY: Final = 64
"""Every so many entries one is indexed by when it was recorded: an index of all would cost each append (our choice)."""
MILESTONE: Final = f"feed % {EVERY} = 0"

LASTING: Final = "kind IN ('hold-placed', 'hold-lifted', 'item-received')"
"""What an item's earlier cycles leave behind: holds, and the site that it belongs to."""

REWRITING: Final = "kind IN ('entry-undone', 'wearer-identified', 'history-joined')"
"""What changes what an item is known to have touched before; few entries, by which a look-back as of then is true."""

ACCESSING: Final = "kind IN ('sign-in-failed', 'sign-in-locked')"
"""What tells that somebody may be guessing; counted by station and hour."""

ENTRY: Final = Table(
    "entry",
    METADATA,
    Column("feed", Integer, primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False),
    Column("stream", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("occurred_us", Integer, nullable=False),
    Column("recorded_us", Integer, nullable=False),
    Column("offset_min", Integer, nullable=False),
    Column("mono_us", Integer, nullable=False),
    Column("running_us", Integer),
    Column("boot", Text, nullable=False),
    Column("node", Text, nullable=False),
    Column("actor", Text),
    Column("second", Text),
    Column("identity", Text, nullable=False),
    Column("station", Text),
    Column("request_key", Text, nullable=False),
    Column("request_part", Integer, nullable=False),
    Column("request_digest", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("answer", Text),
    Column("prev", LargeBinary(32), nullable=False),
    Column("digest", LargeBinary(32), nullable=False),
    Column("mac", LargeBinary(32), nullable=False),
    Column("mac_key", Integer, nullable=False),
    UniqueConstraint("stream", "number"),
    UniqueConstraint("request_key", "request_part"),
    CheckConstraint("feed > 0 AND number > 0 AND request_part >= 0", name="counted_from_one"),
    CheckConstraint("(request_part = 0) = (answer IS NOT NULL)", name="answer_with_part_0"),
    Index("entry_when", "recorded_us", sqlite_where=text(MILESTONE)),
    Index("entry_lasting", "stream", "number", sqlite_where=text(LASTING)),
    Index("entry_rewriting", "feed", sqlite_where=text(REWRITING)),
    Index("entry_accessing", "recorded_us", sqlite_where=text(ACCESSING)),
)
"""The record. Every column from `feed` to `prev` is hashed, in this order (record/form.py)."""

STANDING: Final = Table(
    "standing",
    METADATA,
    Column("stream", Text, primary_key=True),
    Column("kind", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("head", LargeBinary(32), nullable=False),
    Column("site", Text),
    Column("item_kind", Text),
    Column("stage", Text),
    Column("held", Integer, nullable=False, default=0),
    Column("changed_us", Integer, nullable=False),
    Column("state", Text, nullable=False),
)
"""Where each stream stands: the fold of its entries and the digest of the latest one."""

TOUCH: Final = Table(
    "touch",
    METADATA,
    Column("item", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("sort", Text, primary_key=True),
    Column("name", Text, primary_key=True),
    Column("cycle", Integer, nullable=False),
    Column("step", Text),
    Column("from_us", Integer, nullable=False),
    Column("from_feed", Integer, nullable=False),
    Column("until_us", Integer),
    Column("until_feed", Integer),
    Index("touch_name", "sort", "name", "from_us"),
    Index("touch_open", "item", "sort", sqlite_where=text("until_feed IS NULL")),
)
"""What each item touched from when to when (record/touching.py); `number` is the entry that says so. Open intervals
have no end yet, marks end where they begin."""

BADGE: Final = Table(
    "badge",
    METADATA,
    Column("badge", Text, primary_key=True),
    Column("person", Text, nullable=False),
)
"""Whom a badge means now."""

DEFINITION: Final = Table(
    "definition",
    METADATA,
    Column("digest", Text, primary_key=True),
    Column("sort", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("text", Text, nullable=False),
)
"""Every text of a workflow, agent, configuration or profile that was ever published."""

DUE: Final = Table(
    "due",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("subject", Text, nullable=False),
    Column("rule", Text, nullable=False),
    Column("due_us", Integer, nullable=False),
    Column("severity", Integer, nullable=False),
    Column("words", Text, nullable=False),
    Index("due_when", "due_us"),
    Index("due_subject", "subject"),
)
"""What is due when, computed from the standings; replaced per subject and edited by nobody."""

RANG: Final = Table(
    "rang",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("rang_us", Integer, nullable=False),
    Column("seen_us", Integer),
    Column("escalated_us", Integer),
)
"""Which reminders were given, acknowledged and escalated, projected from their entries."""

ESCALATED: Final = Table(
    "escalated",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("level", Integer, primary_key=True, autoincrement=False),
    Column("at_us", Integer, nullable=False),
)
"""How far up its chain each reminder went, and when it reached each level, projected from the entries."""

REVIEW: Final = Table(
    "review",
    METADATA,
    Column("feed", Integer, primary_key=True, autoincrement=False),
    Column("stream", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("kind", Text, nullable=False),
    Column("sort", Text, nullable=False),
    Column("at_us", Integer, nullable=False),
    Column("actor", Text),
    Column("station", Text),
    Column("rules", Text, nullable=False),
    Column("about", Integer),
    Column("reviewed_feed", Integer),
    Index("review_sort", "sort", "at_us"),
    Index("review_waits", "sort", "feed", sqlite_where=text("reviewed_feed IS NULL")),
)
"""What is unusual and waits until somebody has looked at it (record/reviewing.py)."""

CLAIM: Final = Table(
    "claim",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("owner", Text, nullable=False),
    Column("until_us", Integer, nullable=False),
)
"""A working table: which node is just now delivering which reminder."""

POST: Final = Table(
    "post",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("channel", Text, primary_key=True),
    Column("level", Integer, primary_key=True, autoincrement=False),
    Column("site", Text, nullable=False),
    Column("message", Text, nullable=False),
    Column("attempts", Integer, nullable=False, default=0),
    Column("next_us", Integer, nullable=False),
    Column("until_us", Integer, nullable=False, default=0),
    Index("post_next", "next_us"),
)
"""A working table: what is still to be handed to a channel outside, written with the entry that it rang, deleted with
the entry that says what became of it; `until_us` ends a claim."""

WEARER_NAME: Final = Table(
    "wearer_name",
    METADATA,
    Column("wearer", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("badge", Text, unique=True),
    Column("contact", Text),
)
"""Whose pseudonym it is (ledger/names.py). It follows from no entry, is exported nowhere, and can be erased."""

ABOUT: Final = Table(
    "about",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
"""What the database is: its schema number and the ledger's id."""

DELIVERY: Final = Table(
    "delivery",
    METADATA,
    Column("subscription", Text, primary_key=True),
    Column("after_feed", Integer, nullable=False),
    Column("attempts", Integer, nullable=False, default=0),
    Column("next_us", Integer, nullable=False),
    Column("until_us", Integer, nullable=False, default=0),
    Column("answer", Text),
    Column("answered_us", Integer),
)
"""A working table: up to which entry each subscription was handed the record; `until_us` ends a claim."""

SUBSCRIPTION_SECRET: Final = Table(
    "subscription_secret",
    METADATA,
    Column("subscription", Text, primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("sealed", LargeBinary, nullable=False),
    Column("made_us", Integer, nullable=False),
)
"""What signs for a subscription, sealed (ledger/sealing.py). It follows from no entry and stands in none."""

CREDENTIAL: Final = Table(
    "credential",
    METADATA,
    Column("person", Text, primary_key=True),
    Column("hash", Text, nullable=False),
    Column("set_us", Integer, nullable=False),
    Column("must_change", Integer, nullable=False),
)
"""The hash of each person's PIN (ledger/credentials.py). It follows from no entry and stands in none."""

SESSION: Final = Table(
    "session",
    METADATA,
    Column("digest", Text, primary_key=True),
    Column("person", Text, nullable=False),
    Column("badge", Text, nullable=False),
    Column("station", Text, nullable=False),
    Column("began_us", Integer, nullable=False),
    Column("seen_us", Integer, nullable=False),
    Column("ends_us", Integer, nullable=False),
    Index("session_station", "station"),
    Index("session_person", "person"),
)
"""A working table: who is signed in where, by the digest of the session's id."""

TOKEN_DIGEST: Final = Table(
    "token_digest",
    METADATA,
    Column("digest", Text, primary_key=True),
    Column("token", Text, nullable=False, unique=True),
    Column("used_us", Integer),
)
"""Which token it is, by the digest of its text, and when it was last used; what it may do, the entries say."""

BEACON: Final = Table(
    "beacon",
    METADATA,
    Column("node", Text, primary_key=True),
    Column("boot", Text, primary_key=True),
    Column("epoch", Text, nullable=False),
    Column("counter", Integer, nullable=False),
    Column("clock_us", Integer, nullable=False),
    Column("mono_us", Integer, nullable=False),
    Column("asleep_us", Integer, nullable=False),
    Column("above_us", Integer, nullable=False),
    Column("below_us", Integer, nullable=False),
    Column("skew_us", Integer, nullable=False),
)
"""A working table on a server: what each computer last saw of the database's clock (ledger/beacons.py)."""

PROJECTIONS: Final = (STANDING, TOUCH, BADGE, DEFINITION, DUE, RANG, ESCALATED, REVIEW)
"""What `rebuild` makes anew from the entries."""

TRIGGERS: Final = (
    """CREATE TRIGGER entry_never_changes BEFORE UPDATE ON entry
    BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END""",
    """CREATE TRIGGER entry_never_goes BEFORE DELETE ON entry
    BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END""",
    """CREATE TRIGGER entry_never_replaced BEFORE INSERT ON entry
    WHEN NEW.feed <= (SELECT coalesce(max(feed), 0) FROM entry)
      OR EXISTS (SELECT 1 FROM entry WHERE stream = NEW.stream AND number = NEW.number)
      OR EXISTS (SELECT 1 FROM entry WHERE request_key = NEW.request_key AND request_part = NEW.request_part)
    BEGIN SELECT RAISE(ABORT, 'entries are never replaced'); END""",
)
"""Without the third, INSERT OR REPLACE would slip past the other two (measured on SQLite 3.40)."""
