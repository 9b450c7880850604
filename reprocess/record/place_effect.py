"""How entries about where an item lies, and about its repair, change its standing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.standing import Hold, Standing


def place_effect(standing: Standing, entry: Entry) -> dict[str, Any]:
    """Returns the fields of a standing that an entry about its place changes, and what they become."""
    body = entry.body
    match body:
        case words.ItemPlaced() if body.sort == "quarantine":
            held = {name: _located(one, body.place) for name, one in standing.holds.items()}
            return {"place": body.place, "holds": held}
        case words.ItemPlaced():
            return {"place": body.place}
        case words.ItemTakenOut():
            return {"place": None}
        case _:
            return {}


def _located(hold: Hold, place: str) -> Hold:
    """Returns a hold whose item was put into quarantine (H01)."""
    return replace(hold, place=place)
