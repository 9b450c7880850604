"""How much of everything there is, counted in the projections: no names, no ids, a bounded number of rows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.append import looking
from reprocess.ledger.deliveries import NEVER_US
from reprocess.ledger.driver import Cursor
from reprocess.ledger.open import Ledger

ITEMS: Final = (
    "SELECT coalesce(site, ''), coalesce(stage, ''), count(*), sum(held) FROM standing WHERE kind = 'item'"
    " GROUP BY site, stage ORDER BY site, stage"
)
OVERDUE: Final = (
    "SELECT d.severity, count(*) FROM due AS d LEFT JOIN rang AS r ON r.key = d.key"
    " WHERE d.due_us <= ? AND r.key IS NULL GROUP BY d.severity ORDER BY d.severity"
)


@dataclass(frozen=True, slots=True)
class Figures:
    """Is what was counted.

    Attributes:
        items: (site, stage, items, of them on hold), by site and stage.
        overdue: (severity, reminders that are due and did not ring yet), the gravest first.
        entries: entries of the whole record.
        posts: reminders that wait for a channel outside.
        behind: for each subscription that goes on, the entries that it was not handed yet.
    """

    items: tuple[tuple[str, str, int, int], ...]
    overdue: tuple[tuple[int, int], ...]
    entries: int
    posts: int
    behind: tuple[int, ...]


def figures(ledger: Ledger, now_us: int) -> Figures:
    """Returns what there is now."""
    with ledger.reading() as cursor:
        items, overdue = _items(cursor), _overdue(cursor, now_us)
    with looking(ledger) as read:
        last = read.feed.last()
        behind = tuple(last - one.after for one in read.deliveries.all() if one.next_us < NEVER_US)
        return Figures(items, overdue, last, read.posts.waiting()[0], behind)


def _items(cursor: Cursor) -> tuple[tuple[str, str, int, int], ...]:
    rows = cursor.execute(ITEMS).fetchall()
    return tuple((str(site), str(stage), int(count), int(held)) for site, stage, count, held in rows)


def _overdue(cursor: Cursor, now_us: int) -> tuple[tuple[int, int], ...]:
    return tuple((int(severity), int(count)) for severity, count in cursor.execute(OVERDUE, (now_us,)).fetchall())
