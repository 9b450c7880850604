"""The tables, as SQLAlchemy Core: the entries, which only grow, and what is projected from them.

Everything but `entry` and `about` can be rebuilt from the entries; `claim` is a working table and is not.
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

CLAIM: Final = Table(
    "claim",
    METADATA,
    Column("key", Text, primary_key=True),
    Column("owner", Text, nullable=False),
    Column("until_us", Integer, nullable=False),
)
"""A working table: which node is just now delivering which reminder."""

ABOUT: Final = Table(
    "about",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)
"""What the database is: its schema number and the ledger's id."""

PROJECTIONS: Final = (STANDING, TOUCH, BADGE, DEFINITION, DUE, RANG)
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
