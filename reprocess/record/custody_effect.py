"""How entries about custody change an item's standing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from reprocess.record import words
from reprocess.record.custody import Custody, Dedication
from reprocess.record.entry import Entry
from reprocess.record.standing import Standing

CUSTODY_WORDS: Final = (
    words.ItemIssued,
    words.ItemReturned,
    words.WearerIdentified,
    words.WornAgain,
    words.PartKept,
    words.ItemLent,
    words.ItemSent,
    words.ItemReceived,
    words.ItemDedicated,
)
"""The kinds of entry that are about custody alone."""


def custody_effect(standing: Standing, entry: Entry) -> dict[str, Any]:
    """Returns the fields of a standing that an entry about custody changes, and what they become."""
    body, custody = entry.body, standing.custody
    match body:
        case words.ItemReturned():
            went_out = tuple(custody.members.values()) if custody is not None else (standing.back or ())
            return {"custody": None, "back": went_out}
        case words.ItemReceived():
            return {"custody": None, "site": body.site}
        case words.WearerIdentified():
            mine = custody is not None and custody.number == body.number
            return {"custody": replace(custody, wearer=body.wearer)} if custody is not None and mine else {}
        case words.WornAgain():
            return {"wear": None}
        case words.ItemDedicated():
            kept = body.place is not None or body.wearer is not None
            return {"dedication": Dedication(body.place, body.wearer) if kept else None}
        case _:
            return {"custody": _begun(entry), "place": None}


def _begun(entry: Entry) -> Custody | None:
    body, number, since_us = entry.body, entry.number, entry.at_us
    match body:
        case words.ItemIssued():
            return Custody(
                "issued",
                number,
                since_us,
                body.place,
                body.wearer,
                body.purpose,
                body.expected_us,
                dict(body.members),
                dict(body.counts),
            )
        case words.ItemLent():
            return Custody(
                "lent",
                number,
                since_us,
                body.to,
                expected_us=body.due_us,
                members=dict(body.members),
                counts=dict(body.counts),
            )
        case words.ItemSent():
            return Custody("moving", number, since_us, body.to, clean=body.clean)
        case words.PartKept():
            return Custody(body.cause, number, since_us, body.place, body.wearer)
        case _:
            return None


def with_swap(custody: Custody | None, body: words.PartSwapped) -> Custody | None:
    """Returns who has an assembly after one of its parts was changed in use (U12)."""
    if custody is None:
        return None
    members = {**custody.members, body.slot: body.into}
    return replace(custody, members=members, swapped=(*custody.swapped, body.out))
