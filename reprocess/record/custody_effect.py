"""How entries about custody change an item's standing."""

from __future__ import annotations

from typing import Any

from reprocess.record import words
from reprocess.record.custody import Custody
from reprocess.record.entry import Entry
from reprocess.record.standing import Standing


def custody_effect(standing: Standing, entry: Entry) -> dict[str, Any]:
    """Returns the fields of a standing that an entry about custody changes, and what they become."""
    body = entry.body
    match body:
        case words.ItemIssued():
            issued = Custody(
                sort="issued",
                number=entry.number,
                since_us=entry.at_us,
                place=body.place,
                wearer=body.wearer,
                purpose=body.purpose,
                expected_us=body.expected_us,
                members=dict(body.members),
                counts=dict(body.counts),
            )
            return {"custody": issued}
        case words.ItemReturned():
            return {"custody": None}
        case _:
            return {}
