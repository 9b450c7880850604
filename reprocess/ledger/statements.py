"""The statements of the append path, rendered once from the SQLAlchemy tables and run on the driver's cursor.

Measured before it was chosen: SQLAlchemy Core costs a third of a durable step, the driver's cursor three percent.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import Executable, bindparam, delete, func, literal_column, select
from sqlalchemy.dialects import sqlite

from reprocess.ledger.driver import among, differs
from reprocess.ledger.tables import BADGE, DEFINITION, ENTRY, LASTING, STANDING, TOUCH
from reprocess.record.form import COLUMNS

_DIALECT = sqlite.dialect(paramstyle="named")


def _render(statement: Executable) -> str:
    return str(statement.compile(dialect=_DIALECT))  # type: ignore[attr-defined]


ENTRY_COLUMNS: Final = (*COLUMNS, "digest", "mac", "mac_key")
"""The columns of `entry` in the order in which rows are written and read."""

INSERT_ENTRY: Final = (
    f"INSERT INTO {ENTRY.name} ({', '.join(ENTRY_COLUMNS)}) VALUES ({', '.join('?' * len(ENTRY_COLUMNS))})"  # noqa: S608
)
INSERT_ENTRY_AT: Final = (
    f"INSERT INTO {ENTRY.name} ({', '.join(ENTRY_COLUMNS)}, site) VALUES ({', '.join('?' * (len(ENTRY_COLUMNS) + 1))})"  # noqa: S608
)
"""On a server the site stands beside the entry."""
SELECT_ENTRY: Final = f"SELECT {', '.join(ENTRY_COLUMNS)} FROM {ENTRY.name}"  # noqa: S608
LAST_FEED: Final = differs(
    _render(select(func.coalesce(func.max(ENTRY.c.feed), literal_column("0")))), "SELECT last FROM feed_head"
)
BY_KEY: Final = differs(
    _render(
        select(ENTRY.c.request_digest, ENTRY.c.answer).where(
            ENTRY.c.request_key == bindparam("key"), ENTRY.c.request_part == literal_column("0")
        )
    ),
    "SELECT request_digest, answer FROM entry"
    " WHERE recorded_us = (SELECT recorded_us FROM entry_key WHERE request_key = :key AND request_part = 0)"
    " AND feed = (SELECT feed FROM entry_key WHERE request_key = :key AND request_part = 0)",
)
"""On a server the key says in which month the entry is, so that one table alone is looked into."""
SELECT_STANDING: Final = _render(
    select(STANDING.c.number, STANDING.c.head, STANDING.c.state).where(STANDING.c.stream == bindparam("stream"))
)
STANDINGS: Final = among("SELECT stream, number, head, state FROM standing WHERE stream")
USED_KEYS: Final = differs(
    "SELECT request_key FROM entry WHERE request_key IN (SELECT value FROM json_each(?)) AND request_part = 0",
    "SELECT request_key FROM entry_key WHERE request_key = ANY (?) AND request_part = 0",
)
"""Which of several request keys were used before."""
BADGES: Final = among(
    "SELECT b.badge, b.person, s.number, s.head, s.state FROM badge AS b"
    " JOIN standing AS s ON s.stream = 'person:' || b.person WHERE b.badge"
)
"""Whom several badges mean, and where these people stand."""
UPSERT_STANDING: Final = (
    "INSERT INTO standing (stream, kind, number, head, site, item_kind, stage, held, changed_us, state)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
    " ON CONFLICT (stream) DO UPDATE SET number = excluded.number, head = excluded.head, site = excluded.site,"
    " item_kind = excluded.item_kind, stage = excluded.stage, held = excluded.held,"
    " changed_us = excluded.changed_us, state = excluded.state"
)
STATES_OF_KIND: Final = _render(
    select(STANDING.c.stream, STANDING.c.state)
    .where(STANDING.c.kind == bindparam("of_kind"))
    .order_by(STANDING.c.stream)
)
READY_LIKE: Final = (
    "SELECT stream, state FROM standing WHERE kind = 'item' AND site = ? AND item_kind = ? AND stage = 'ready'"
    " AND held = 0 ORDER BY stream LIMIT ?"
)
BEGIN_TOUCH: Final = (
    "INSERT INTO touch (item, number, sort, name, cycle, step, from_us, from_feed, until_us, until_feed)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"
)
END_TOUCH: Final = (
    "UPDATE touch SET until_us = ?, until_feed = ? WHERE item = ? AND sort = ? AND until_feed IS NULL AND number < ?"
)
END_UNISSUED: Final = f"{END_TOUCH} AND step IS NOT NULL"
"""A wearing that nobody had issued stands under the step by which it was put on."""
NAME_TOUCH: Final = "UPDATE touch SET name = ? WHERE item = ? AND number = ? AND sort = ?"
FORGET_TOUCHES: Final = _render(delete(TOUCH).where(TOUCH.c.item == bindparam("of_item")))
GIVE_BADGE: Final = (
    "INSERT INTO badge (badge, person) VALUES (?, ?) ON CONFLICT (badge) DO UPDATE SET person = excluded.person"
)
TAKE_BADGE: Final = _render(delete(BADGE).where(BADGE.c.badge == bindparam("of_badge")))
WHOSE_BADGE: Final = _render(select(BADGE.c.person).where(BADGE.c.badge == bindparam("of_badge")))
KEEP_DEFINITION: Final = "INSERT INTO definition (digest, sort, name, text) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING"
DEFINITION_TEXT: Final = _render(
    select(DEFINITION.c.sort, DEFINITION.c.name, DEFINITION.c.text).where(DEFINITION.c.digest == bindparam("digest"))
)
KEEP_RANG: Final = "INSERT INTO rang (key, rang_us) VALUES (?, ?) ON CONFLICT DO NOTHING"
KEEP_SEEN: Final = "UPDATE rang SET seen_us = coalesce(seen_us, ?) WHERE key = ?"
KEEP_ESCALATED: Final = "UPDATE rang SET escalated_us = coalesce(escalated_us, ?) WHERE key = ?"
KEEP_LEVEL: Final = "INSERT INTO escalated (key, level, at_us) VALUES (?, ?, ?) ON CONFLICT DO NOTHING"
STATES_PAGE: Final = (
    "SELECT stream, changed_us, state FROM standing WHERE kind = ? AND stream > ? ORDER BY stream LIMIT ?"
)
WITH_EXAMPLES: Final = "SELECT digest FROM definition WHERE text LIKE '%example: true%'"
FIRST_OF_KIND: Final = _render(
    select(ENTRY.c.stream).where(ENTRY.c.kind == bindparam("of_kind")).order_by(ENTRY.c.feed)
)
ENTRY_BY_FEED: Final = f"{SELECT_ENTRY} WHERE feed = ?"
ENTRIES_AFTER: Final = f"{SELECT_ENTRY} WHERE feed > ? ORDER BY feed LIMIT ?"
"""The entries that follow one of the record, oldest first."""
STREAM_ENTRIES: Final = f"{SELECT_ENTRY} WHERE stream = ? ORDER BY number"
"""All entries of one stream, oldest first."""
STREAM_ENTRIES_UNTIL: Final = f"{SELECT_ENTRY} WHERE stream = ? AND feed <= ? ORDER BY number"
"""The entries of one stream up to one of the record, oldest first."""
ENTRIES_OF_CYCLE: Final = (
    f"{SELECT_ENTRY} WHERE stream = :stream AND number >= :since AND feed <= :feed"
    f" UNION ALL {SELECT_ENTRY} WHERE stream = :stream AND number = 1 AND number < :since AND feed <= :feed"
    f" UNION ALL {SELECT_ENTRY} WHERE stream = :stream AND number < :since AND number > 1 AND {LASTING}"
    " ORDER BY number"
)
"""The entries of one item since a cycle began, up to one of the record, and what earlier cycles left behind."""
LATEST_ENTRIES: Final = f"{SELECT_ENTRY} WHERE stream = ? ORDER BY number DESC LIMIT ?"
"""The latest entries of one stream, latest first."""
