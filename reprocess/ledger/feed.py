"""The record in its one gap-free order, as it is read from outside: each entry with its digest and the one before."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.ledger import statements as sql
from reprocess.ledger.driver import Cursor
from reprocess.record.entry import Entry
from reprocess.record.form import COLUMNS, read_row


@dataclass(frozen=True, slots=True)
class Sealed:
    """Is one entry with its digest and that of the entry before it in its stream, in lower-case hexadecimal."""

    entry: Entry
    digest: str
    prev: str

    @property
    def feed(self) -> int:
        """Returns its number in the whole record."""
        return self.entry.feed


class Feed:
    """Is the side of one transaction that faces those who follow the record.

    A number is given under the lock that lets one writer in at a time: whoever sees an entry sees all before it.
    """

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor

    def last(self) -> int:
        """Returns the number of the latest entry; 0 where there is none."""
        return int(self._cursor.execute(sql.LAST_FEED).fetchone()[0])

    def ledger(self) -> str:
        """Returns the id of the record: 32 hexadecimal digits, made with it."""
        return str(self._cursor.execute("SELECT value FROM about WHERE name = 'ledger'").fetchone()[0])

    def after(self, feed: int, most: int) -> list[Sealed]:
        """Returns the entries that follow an entry of the record, oldest first, at most that many."""
        return [_sealed(row) for row in self._cursor.execute(sql.ENTRIES_AFTER, (feed, most)).fetchall()]


_PREV = COLUMNS.index("prev")
_DIGEST = len(COLUMNS)


def _sealed(row: tuple[object, ...]) -> Sealed:
    entry = read_row(row[:_DIGEST])  # type: ignore[arg-type]
    return Sealed(entry, bytes(row[_DIGEST]).hex(), bytes(row[_PREV]).hex())  # type: ignore[call-overload]
