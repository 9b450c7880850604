"""The intervals in which items touched baths, loads, lots, people and wearers: kept, and asked from both ends."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Any, Final

from reprocess.ledger import statements as sql
from reprocess.record.entry import Entry
from reprocess.record.touching import Touched, TouchRow, closed, opened
from reprocess.terms import subject_of

LAST: Final = 2**63 - 1
"""A number after every entry and an instant after every other, so that "now" is a moment like any past one."""


_COLUMNS: Final = "item, number, sort, name, cycle, step, from_us, from_feed, until_us, until_feed"
BY_NAME: Final = (
    f"SELECT {_COLUMNS} FROM touch WHERE sort = ? AND name = ? AND from_us <= ? AND from_feed <= ?"  # noqa: S608
    " AND (until_feed IS NULL OR until_us >= ? OR until_feed >= ?) ORDER BY item, number"
)
BY_ITEM: Final = f"SELECT {_COLUMNS} FROM touch WHERE item = ? AND from_feed <= ? ORDER BY number, sort, name"  # noqa: S608
BY_ITEM_SINCE: Final = (
    f"SELECT {_COLUMNS} FROM touch WHERE item = ? AND from_feed <= ?"  # noqa: S608
    " AND (until_feed IS NULL OR until_feed >= ? OR until_us >= ?) ORDER BY number, sort, name"
)
NAMES: Final = "SELECT DISTINCT name FROM touch WHERE sort = ? ORDER BY name"


def project(cursor: sqlite3.Cursor, entry: Entry, cycle: int) -> None:
    """Brings the intervals of one item up to date with one entry of its stream."""
    item = subject_of(entry.stream)
    for sort in closed(entry.body):
        cursor.execute(sql.END_TOUCH, (entry.at_us, entry.feed, item, sort, entry.number))
    for one in opened(entry):
        until: tuple[int | None, int | None] = (None, None) if one.lasts else (entry.at_us, entry.feed)
        row = (item, entry.number, one.sort, one.name, cycle, one.step, entry.at_us, entry.feed, *until)
        cursor.execute(sql.BEGIN_TOUCH, row)


class Touches:
    """Is the trace's side of one transaction. `as_of` is the last entry of the record that counts."""

    def __init__(self, cursor: sqlite3.Cursor) -> None:
        self._cursor = cursor

    def of(
        self,
        sort: Touched,
        name: str,
        *,
        from_us: int = 0,
        until_us: int = LAST,
        since_feed: int = LAST,
        as_of: int = LAST,
    ) -> list[TouchRow]:
        """Returns the items that touched something within `[from_us, until_us]`, both ends included, by item.

        An interval that ended at or after the entry `since_feed` counts too, whatever the wall clock said: either
        order is enough, so that a clock that was set back hides nothing.
        """
        asked = (sort, name, until_us, as_of, from_us, since_feed)
        return [_as_of(row, as_of) for row in self._cursor.execute(BY_NAME, asked)]

    def by(self, item: str, *, as_of: int = LAST) -> list[TouchRow]:
        """Returns everything that one item touched, oldest first."""
        return [_as_of(row, as_of) for row in self._cursor.execute(BY_ITEM, (item, as_of))]

    def by_since(self, item: str, feed: int, at_us: int, *, as_of: int = LAST) -> list[TouchRow]:
        """Returns what one item touched that had not ended before an entry of the record and an instant."""
        return [_as_of(row, as_of) for row in self._cursor.execute(BY_ITEM_SINCE, (item, as_of, feed, at_us))]

    def names(self, sort: Touched) -> list[str]:
        """Returns everything of a sort that any item ever touched, by name."""
        return [str(row[0]) for row in self._cursor.execute(NAMES, (sort,))]

    def last_feed_at(self, at_us: int) -> int:
        """Returns the number of the last entry that was on record at an instant, 0 when there was none."""
        row = self._cursor.execute("SELECT max(feed) FROM entry WHERE recorded_us <= ?", (at_us,)).fetchone()
        return int(row[0] or 0)


def _as_of(row: Iterable[Any], as_of: int) -> TouchRow:
    found = TouchRow(*row)
    if found.until_feed is None or found.until_feed <= as_of:
        return found
    return TouchRow(
        found.item, found.number, found.sort, found.name, found.cycle, found.step, found.from_us, found.from_feed,
        None, None,
    )  # fmt: skip
