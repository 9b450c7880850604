"""The intervals in which items touched baths, loads, lots, people and wearers: kept, and asked from both ends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from reprocess.ledger import statements as sql
from reprocess.ledger.driver import Cursor, differs
from reprocess.ledger.tables import EVERY, MILESTONE, REWRITING
from reprocess.record.entry import Entry
from reprocess.record.form import COLUMNS, read_row
from reprocess.record.touching import (
    UNKNOWN_WEARER,
    Touched,
    TouchRow,
    closed,
    joined,
    named_later,
    opened,
    rows_of,
    taken_off,
    worn_unissued,
)
from reprocess.record.words import HistoryJoined, ItemContaminated
from reprocess.terms import Stage, StreamKind, stream, subject_of

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
IN_SERVICE: Final = "SELECT count(*) FROM standing WHERE kind = 'item' AND stage <> ?"
STATIONS: Final = (
    "SELECT e.station, max(t.from_us) FROM touch AS t JOIN entry AS e ON e.stream = 'item:' || t.item"
    " AND e.number = t.number WHERE t.sort = ? AND t.name = ? AND t.from_us BETWEEN ? AND ? AND e.actor = ?"
    " AND e.station IS NOT NULL GROUP BY e.station ORDER BY 2 DESC"
)
STATIONS_OF: Final = differs(
    "SELECT t.name, e.station, max(t.from_us) FROM touch AS t JOIN entry AS e ON e.stream = 'item:' || t.item"
    " AND e.number = t.number AND e.actor = t.name WHERE t.name IN (SELECT value FROM json_each(?)) AND t.sort = ?"
    " AND t.from_us >= ? AND e.station IS NOT NULL GROUP BY t.name, e.station ORDER BY 3 DESC",
    "SELECT t.name, e.station, max(t.from_us) FROM touch AS t JOIN entry AS e ON e.stream = 'item:' || t.item"
    " AND e.number = t.number AND e.actor = t.name WHERE t.name = ANY (?) AND t.sort = ?"
    " AND t.from_us >= ? AND e.station IS NOT NULL GROUP BY t.name, e.station ORDER BY 3 DESC",
)
"""Of several people at once."""
TIMES: Final = "SELECT from_us FROM touch WHERE sort = ? ORDER BY from_us"
LAST_MILESTONE: Final = differs(
    f"SELECT max(feed) FROM main.entry INDEXED BY entry_when WHERE recorded_us <= ? AND {MILESTONE}",  # noqa: S608
    f"SELECT max(feed) FROM entry WHERE recorded_us <= ? AND {MILESTONE}",  # noqa: S608
)
LAST_AFTER: Final = "SELECT max(feed) FROM entry WHERE feed BETWEEN ? AND ? AND recorded_us <= ?"
LATEST: Final = "SELECT item, max(from_us) FROM touch WHERE sort = ? GROUP BY item"
CYCLE_BEGAN: Final = "SELECT max(number) FROM touch WHERE item = ? AND sort = ? AND from_feed <= ?"
SINCE_BEGAN: Final = (
    "SELECT sort FROM touch WHERE item = ?1 AND until_feed IS NULL UNION SELECT sort FROM touch WHERE item = ?1"
    " AND number >= (SELECT max(number) FROM touch WHERE item = ?1 AND sort = ?2 AND until_feed IS NULL)"
)
CYCLE_AT: Final = "SELECT max(cycle) FROM touch WHERE item = ? AND sort = ? AND from_feed <= ?"
_REWRITTEN: Final = (
    f"SELECT DISTINCT e.stream FROM entry AS e WHERE e.feed > ?1 AND {REWRITING}"  # noqa: S608
    f" AND (e.kind = '{HistoryJoined.kind}' OR EXISTS (SELECT 1 FROM entry AS t WHERE t.stream = e.stream"
    " AND t.number = json_extract(e.body, '$.number') AND t.feed <= ?1))"
)
REWRITTEN: Final = differs(
    _REWRITTEN, _REWRITTEN.replace("json_extract(e.body, '$.number')", "(e.body::jsonb ->> 'number')::bigint")
)
NAMES: Final = "SELECT DISTINCT name FROM touch WHERE sort = ? ORDER BY name"


def project(cursor: Cursor, entry: Entry, cycle: int) -> None:
    """Brings the intervals of one item up to date with one entry of its stream."""
    item = subject_of(entry.stream)
    named = named_later(entry.body)
    if named is not None:
        number, wearer = named
        cursor.execute(sql.NAME_TOUCH, (wearer, item, number, Touched.WEARER))
    unissued = isinstance(entry.body, ItemContaminated) and worn_unissued(entry.body, _sorts(cursor, item))
    for sort in closed(entry.body):
        cursor.execute(sql.END_TOUCH, (entry.at_us, entry.feed, item, sort, entry.number))
    end = (entry.at_us, entry.feed)
    if taken_off(entry.body):
        cursor.execute(sql.END_UNISSUED, (*end, item, Touched.WEARER, entry.number))
    if unissued:
        row = (item, entry.number, Touched.WEARER, UNKNOWN_WEARER, cycle - 1, None, *end, *end)
        cursor.execute(sql.BEGIN_TOUCH, row)
    for one in opened(entry):
        until: tuple[int | None, int | None] = (None, None) if one.lasts else end
        cursor.execute(sql.BEGIN_TOUCH, (item, entry.number, one.sort, one.name, cycle, one.step, *end, *until))
    for told in joined(entry):
        then = cursor.execute(CYCLE_AT, (item, Touched.WORKFLOW, told.from_feed)).fetchone()[0] or 1
        span = (told.from_us, told.from_feed, told.until_us, told.until_feed)
        cursor.execute(sql.BEGIN_TOUCH, (item, entry.number, told.sort, told.name, then, told.step, *span))


def _sorts(cursor: Cursor, item: str) -> list[str]:
    """Returns what sorts of things an item touched since its cycle began, or still touches."""
    return [str(row[0]) for row in cursor.execute(SINCE_BEGAN, (item, str(Touched.WORKFLOW)))]


class Touches:
    """Is the trace's side of one transaction. `as_of` is the last entry of the record that counts."""

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor
        self._later: dict[int, frozenset[str]] = {}

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
        found = [_as_of(row, as_of) for row in self._cursor.execute(BY_NAME, asked)]
        rewritten = self._rewritten(as_of)
        if not rewritten:
            return found
        stand = [row for row in found if row.item not in rewritten]
        for item in rewritten:
            stand += [
                row
                for row in self._then(item, as_of)
                if (row.sort, row.name) == (sort, name)
                and row.from_us <= until_us
                and (row.until_us is None or row.until_us >= from_us or (row.until_feed or 0) >= since_feed)
            ]
        return sorted(stand, key=lambda row: (row.item, row.number))

    def by(self, item: str, *, as_of: int = LAST) -> list[TouchRow]:
        """Returns everything that one item touched, oldest first."""
        if item in self._rewritten(as_of):
            return self._then(item, as_of)
        return [_as_of(row, as_of) for row in self._cursor.execute(BY_ITEM, (item, as_of))]

    def by_since(self, item: str, feed: int, at_us: int, *, as_of: int = LAST) -> list[TouchRow]:
        """Returns what one item touched that had not ended before an entry of the record and an instant."""
        if item in self._rewritten(as_of):
            return [
                row
                for row in self._then(item, as_of)
                if row.until_feed is None or row.until_feed >= feed or (row.until_us or 0) >= at_us
            ]
        return [_as_of(row, as_of) for row in self._cursor.execute(BY_ITEM_SINCE, (item, as_of, feed, at_us))]

    def _rewritten(self, as_of: int) -> frozenset[str]:
        """Returns the items of which a later entry took back, named or joined something that was written before.

        What is kept of them is not what was kept then; their own entries tell it.
        """
        if as_of >= LAST:
            return frozenset()
        if as_of not in self._later:
            rows = self._cursor.execute(REWRITTEN, (as_of,))
            self._later[as_of] = frozenset(subject_of(str(row[0])) for row in rows)
        return self._later[as_of]

    def _then(self, item: str, as_of: int) -> list[TouchRow]:
        """Returns everything that an item touched as its entries tell it up to one of the record, oldest first."""
        rows = self._cursor.execute(sql.STREAM_ENTRIES_UNTIL, (stream(StreamKind.ITEM, item), as_of)).fetchall()
        found = rows_of(item, [read_row(row[: len(COLUMNS)]) for row in rows])
        return sorted(found, key=lambda row: (row.number, row.sort, row.name))

    def times_of(self, sort: Touched) -> list[int]:
        """Returns when anything of a sort began to be touched, the earliest first."""
        return [int(row[0]) for row in self._cursor.execute(TIMES, (sort,))]

    def names(self, sort: Touched) -> list[str]:
        """Returns everything of a sort that any item ever touched, by name."""
        return [str(row[0]) for row in self._cursor.execute(NAMES, (sort,))]

    def cycle_began(self, item: str, feed: int) -> int:
        """Returns the number of the entry with which an item's last cycle up to an entry of the record began."""
        row = self._cursor.execute(CYCLE_BEGAN, (item, str(Touched.WORKFLOW), feed)).fetchone()
        return int(row[0] or 1)

    def items_in_service(self) -> int:
        """Returns how many items are on record and not condemned."""
        return int(self._cursor.execute(IN_SERVICE, (str(Stage.CONDEMNED),)).fetchone()[0])

    def stations_of(self, person: str, since_us: int, until_us: int) -> list[tuple[str, int]]:
        """Returns (station, instant of the latest work) of a person between two instants, the latest first."""
        found = self._cursor.execute(STATIONS, (Touched.PERSON, person, since_us, until_us, person)).fetchall()
        return [(str(station), int(at_us)) for station, at_us in found]

    def latest(self, sort: Touched) -> dict[str, int]:
        """Returns when each item last touched anything of a sort, by item."""
        return dict(self._cursor.execute(LATEST, (sort,)).fetchall())

    def last_end(self, sort: Touched, name: str) -> int:
        """Returns when an item last ceased to touch something, 0 when none ever did."""
        asked = "SELECT max(until_us) FROM touch WHERE sort = ? AND name = ?"
        return int(self._cursor.execute(asked, (sort, name)).fetchone()[0] or 0)

    def last_feed_at(self, at_us: int) -> int:
        """Returns the number of the last entry that was on record at an instant, 0 when there was none.

        Where clocks were set back meanwhile, it is the last one whose clock did not show more, as far as the
        milestones tell: at most 63 entries in a row that were written with a clock set back can be missed.
        """
        milestone = int(self._cursor.execute(LAST_MILESTONE, (at_us,)).fetchone()[0] or 0)
        found = self._cursor.execute(LAST_AFTER, (milestone, milestone + EVERY, at_us)).fetchone()[0]
        return int(found or milestone)


def _as_of(row: Iterable[Any], as_of: int) -> TouchRow:
    found = TouchRow(*row)
    if found.until_feed is None or found.until_feed <= as_of:
        return found
    return TouchRow(
        found.item, found.number, found.sort, found.name, found.cycle, found.step, found.from_us, found.from_feed,
        None, None,
    )  # fmt: skip
