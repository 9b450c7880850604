"""How custody ends where a bench finds that an item is there: a scan of its use is a return at that bench (U07)."""

from __future__ import annotations

from typing import Final

from reprocess.engine.decision import on_item
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing

AT_THE_BENCH: Final = frozenset({"used", "found", "returned-from-repair", "repair"})
"""What is only said of an item that lies in front of somebody."""


def closed_here(item: Standing, place: str, said: str, contamination_class: str = "routine") -> list[Draft]:
    """Returns the return of an item that was out, where what is said of it can only be said at a bench."""
    custody = item.custody
    if custody is None or said not in AT_THE_BENCH:
        return []
    body = words.ItemReturned(
        place=place, wearer=custody.wearer, contamination_class=contamination_class, used=said == "used"
    )
    return [on_item(item.item, body)]
