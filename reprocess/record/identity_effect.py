"""What entries about tags change of an item's standing."""

from __future__ import annotations

from typing import Any

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.standing import Standing


def identity_effect(standing: Standing, entry: Entry) -> dict[str, Any]:
    """Returns which tag means the item after an entry, and since when it waits for a new label."""
    match entry.body:
        case words.TagGiven():
            return {"tag": entry.body.tag, "relabel_us": None}
        case words.TagWithdrawn() if standing.tag == entry.body.tag:
            return {"tag": None}
        case words.CodeTyped() if standing.relabel_us is None:
            return {"relabel_us": entry.at_us}
        case _:
            return {}
