"""What a writing transaction has still to write: held until something is read, or all of it is committed.

Rows of one statement that are about different things are then written by one statement: a server takes them as one JSON
text, SQLite as that many rows of VALUES. Statements about one table keep their order; those about different tables may
change places, since no table rests on another one there. So a server is told little, and SQLite works without Python's
lock for longer at a time, while the same process answers others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

import orjson
from sqlalchemy import Integer, LargeBinary, Table

from reprocess.ledger import dues, reviews
from reprocess.ledger import statements as sql
from reprocess.ledger.tables import DUE, ENTRY, REVIEW, STANDING, TOUCH

HELD_MAX: Final = 1_000
"""Rows that are held at most before they are sent (our choice), so that memory stays bounded."""
PORTION_MAX: Final = 64
"""Rows of one statement of SQLite at most (our choice: a batch's entries)."""


@dataclass(frozen=True, slots=True)
class Together:
    """Is a statement that takes many rows at once.

    Attributes:
        table: the table that it writes.
        text: the statement for a server, with one parameter.
        key: the places of the values that tell what a row is about; one thing is written once by one statement.
        row: the text of one row of VALUES, where SQLite can take several.
    """

    table: str
    text: str
    key: tuple[int, ...]
    row: str | None = None

    def about(self, row: Sequence[object]) -> tuple[object, ...]:
        """Returns what a row is about."""
        return tuple(row[place] for place in self.key)


def told(rows: Iterable[Sequence[object]]) -> str:
    """Returns rows as the one JSON text that a statement takes."""
    return orjson.dumps([dict(zip(_PLACES, row, strict=False)) for row in rows], default=bytes.hex).decode()


_PLACES: Final = tuple(f"c{place}" for place in range(len(sql.ENTRY_COLUMNS) + 1))
"""The names of the values of a row; entries are the longest ones."""


def _typed(table: Table, columns: Sequence[str]) -> str:
    """Returns the names and types under which the values of these columns stand in the JSON text."""
    whole = (isinstance(table.c[one].type, Integer) if one in table.c else False for one in columns)
    return ", ".join(f"c{place} {'bigint' if one else 'text'}" for place, one in enumerate(whole))


def _values(table: Table, columns: Sequence[str]) -> str:
    kept = (one in table.c and isinstance(table.c[one].type, LargeBinary) for one in columns)
    return ", ".join(f"decode(c{place}, 'hex')" if one else f"c{place}" for place, one in enumerate(kept))


def _rows(table: Table, columns: Sequence[str]) -> str:
    return f"json_to_recordset(?::json) AS x({_typed(table, columns)})"


def _inserting(text: str, table: Table, key: Sequence[str]) -> Together:
    """Returns an INSERT of one row as one of many; what happens where a row is there already stays."""
    columns = [one.strip() for one in text.split("(", 1)[1].split(")", 1)[0].split(",")]
    places = tuple(columns.index(one) for one in key)
    _, found, conflict = text.partition(" ON CONFLICT")
    order = ", ".join(f"c{place}" for place in places)
    many = f"INSERT INTO {table.name} ({', '.join(columns)}) SELECT {_values(table, columns)}"
    many += f" FROM {_rows(table, columns)} ORDER BY {order}"
    many += f"{found}{conflict}" if found else ""
    return Together(table.name, many, places, f"({', '.join('?' * len(columns))})")


_ENDING: Final = ("until_us", "until_feed", "item", "sort", "number")
_END: Final = (
    f"UPDATE touch SET until_us = x.c0, until_feed = x.c1 FROM {_rows(TOUCH, _ENDING)} WHERE touch.item = x.c2"  # noqa: S608
    " AND touch.sort = x.c3 AND touch.until_feed IS NULL AND touch.number < x.c4"
)

TOGETHER: Final[Mapping[str, Together]] = {
    sql.INSERT_ENTRY: _inserting(sql.INSERT_ENTRY, ENTRY, ("feed",)),
    sql.INSERT_ENTRY_AT: _inserting(sql.INSERT_ENTRY_AT, ENTRY, ("feed",)),
    sql.UPSERT_STANDING: _inserting(sql.UPSERT_STANDING, STANDING, ("stream",)),
    sql.BEGIN_TOUCH: _inserting(sql.BEGIN_TOUCH, TOUCH, ("item", "number", "sort", "name")),
    sql.END_TOUCH: Together(TOUCH.name, _END, (2, 3)),
    reviews.INSERT: _inserting(reviews.INSERT, REVIEW, ("feed",)),
    dues.INSERT: _inserting(dues.INSERT, DUE, ("key",)),
    dues.FORGET: Together(DUE.name, f"DELETE FROM due USING {_rows(DUE, ('key',))} WHERE due.key = x.c0", (0,)),  # noqa: S608
}
"""The statements of a step, by the text that writes one row."""


@dataclass(slots=True)
class Group:
    """Is one statement with the rows that wait for it; `many` says how they go at once, where they can."""

    text: str
    many: Together | None
    rows: list[Any] = field(default_factory=list)
    about: set[tuple[object, ...]] = field(default_factory=set)


class Held:
    """Is what one transaction has still to send, in an order in which it means what it meant one by one."""

    def __init__(self) -> None:
        self._groups: list[Group] = []
        self._latest: dict[str, Group] = {}
        self._last: Group | None = None
        self._rows = 0

    def __len__(self) -> int:
        return self._rows

    def put(self, text: str, row: Any) -> None:
        """Holds one statement with its parameters."""
        self._rows += 1
        many = TOGETHER.get(text)
        if many is None:  # nobody knows which tables it is about, so that everything after it stays after it
            self._latest.clear()
            self._last = Group(text, None, [row])
            self._groups.append(self._last)
            return
        latest, about = self._latest.get(many.table), many.about(row)
        if latest is None or latest.text != text or about in latest.about:
            latest = self._latest[many.table] = Group(text, many)
            self._groups.append(latest)
        latest.rows.append(row)
        latest.about.add(about)
        self._last = latest

    def put_apart(self) -> None:
        """Makes what was put last a statement of its own, so that the server says what it alone did."""
        if self._groups and self._last is not None:
            row = self._last.rows.pop()
            self._groups.append(Group(self._last.text, None, [row]))

    def take(self) -> list[Group]:
        """Returns everything that is held, and holds nothing any more."""
        groups = self._groups
        self._groups, self._latest, self._last, self._rows = [], {}, None, 0
        return [one for one in groups if one.rows]


@cache
def several(text: str, row: str, count: int) -> str:
    """Returns a statement that inserts one row of VALUES as one that inserts so many."""
    return text.replace(f"VALUES {row}", f"VALUES {', '.join([row] * count)}")


class Holding:
    """Is SQLite's cursor in a transaction that holds what it writes; what is read sees all of it."""

    of_file: Final = True

    def __init__(self, cursor: Any) -> None:
        self._cursor = cursor
        self._held = Held()

    @property
    def connection(self) -> Any:
        """Returns the connection, over which others may read now."""
        self.send()
        return self._cursor.connection

    @property
    def rowcount(self) -> int:
        """Returns how many rows the last statement changed that was not held."""
        return int(self._cursor.rowcount)

    def execute(self, text: str, parameters: Any = ()) -> Any:
        """Runs one statement, or holds it."""
        if text in TOGETHER:
            self._hold(text, parameters)
            return self
        self.send()
        return self._cursor.execute(text, parameters)

    def executemany(self, text: str, parameters: Iterable[Any]) -> Any:
        """Runs one statement for each set of parameters, or holds them."""
        if text in TOGETHER:
            for one in parameters:
                self._hold(text, one)
            return self
        self.send()
        return self._cursor.executemany(text, parameters)

    def _hold(self, text: str, parameters: Any) -> None:
        if len(self._held) >= HELD_MAX:
            self.send()
        self._held.put(text, parameters)

    def send(self) -> None:
        """Writes what is held."""
        if not self._held:
            return
        for group in self._held.take():
            row = group.many.row if group.many is not None else None
            if len(group.rows) == 1:
                self._cursor.execute(group.text, group.rows[0])
            elif row is None:
                self._cursor.executemany(group.text, group.rows)
            else:
                self._write(group, row)

    def _write(self, group: Group, row: str) -> None:
        """Writes rows in portions of which each is a power of two, so that few statements are prepared."""
        done = 0
        while left := len(group.rows) - done:
            count = min(PORTION_MAX, 1 << left.bit_length() - 1)
            values = [value for one in group.rows[done : done + count] for value in one]
            self._cursor.execute(several(group.text, row, count), values)
            done += count

    def fetchone(self) -> Any:
        """Returns the next row, or None."""
        return self._cursor.fetchone()

    def fetchall(self) -> list[Any]:
        """Returns the remaining rows."""
        found: list[Any] = self._cursor.fetchall()
        return found

    def __iter__(self) -> Iterator[Any]:
        return iter(self._cursor)

    def close(self) -> None:
        """Ends the cursor."""
        self._cursor.close()
