"""A second way from entries to exposed uses, written apart from ours: plain loops over one list of dictionaries.

It knows nothing of intervals, rows or windows. It walks through the record anew for each use and each cycle in doubt,
and asks of that pair alone: was the item with the wearer, after the doubt and before it became ready in a good cycle?
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Row = dict[str, Any]
Span = tuple[int, int, int | None, int | None]
"""From when to when: feed, clock, feed of the end, clock of the end."""
ENDS_USE = ("returned", "used")


def exposed_plainly(rows: list[Row], doubts: list[tuple[str, int, int, int]]) -> set[tuple[str, str, str, int]]:
    """Returns (item, whole, wearer, when it began) of every use that rests on a cycle in doubt.

    Args:
        rows: the whole record in its order: `feed`, `at`, `item`, `what`, and what belongs to it.
        doubts: (item, cycle, feed, at) of each cycle in doubt.
    """
    undone = {number for row in rows if row["what"] == "undone" for number in row["feeds"]}
    stand = [row for row in rows if row["feed"] not in undone]
    found = set()
    for row in stand:
        if row["what"] != "issued":
            continue
        use = _until(row, stand, row["item"], ENDS_USE)
        for doubt in doubts:
            doubtful = _doubtful(stand, doubt, doubts)
            inside = _inside(stand, doubt[0], row["item"])
            if _meet(use, doubtful) and any(_meet(use, span) and _meet(span, doubtful) for span in inside):
                found.add((doubt[0], row["item"], row["wearer"] or "not-identified", row["at"]))
    return found


def _until(row: Row, rows: list[Row], item: str, ends: tuple[str, ...]) -> Span:
    """Returns the time from a row to the next one of the item that ends it."""
    for one in rows:
        if one["feed"] > row["feed"] and one["item"] == item and one["what"] in ends:
            return row["feed"], row["at"], one["feed"], one["at"]
    return row["feed"], row["at"], None, None


def _inside(rows: list[Row], item: str, whole: str) -> Iterator[Span]:
    """Yields when an item was in what was issued; always, where it was that itself."""
    if item == whole:
        yield 0, 0, None, None
    for row in rows:
        if row["item"] == item and row["what"] == "joined" and row["whole"] == whole:
            yield _until(row, rows, item, ("left",))


def _doubtful(rows: list[Row], doubt: tuple[str, int, int, int], doubts: list[tuple[str, int, int, int]]) -> Span:
    """Returns the time from a doubt until the item was ready in a later cycle that nobody doubts."""
    item, cycle, feed, at = doubt
    bad = {number for name, number, _, _ in doubts if name == item}
    now = 0
    for row in rows:
        if row["item"] != item:
            continue
        now = 1 if row["what"] == "commissioned" else row["cycle"] if row["what"] == "used" else now
        if row["what"] == "released" and now > cycle and now not in bad:
            return feed, at, row["feed"], row["at"]
    return feed, at, None, None


def _meet(one: Span, two: Span) -> bool:
    """Tells whether two times overlap in the record's order or by the clock; the second begins when it says so."""
    by_feed = (one[2] is None or one[2] >= two[0]) and (two[2] is None or one[0] < two[2])
    by_clock = (one[3] is None or one[3] >= two[1]) and (two[3] is None or one[1] < two[3])
    return by_feed or by_clock
