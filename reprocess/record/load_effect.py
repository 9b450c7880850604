"""How entries about loads change an item's standing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.loads import InLoad
from reprocess.record.standing import Standing


def load_effect(standing: Standing, entry: Entry) -> dict[str, Any]:
    """Returns the fields of a standing that an entry about a load changes, and what they become.

    Whoever loads an item has had a hand in the step that the load does (S01).
    """
    body = entry.body
    match body:
        case words.ItemLoaded():
            loaded = InLoad(body.load, entry.number, body.cycle, body.step)
            actor = entry.envelope.actor
            mine = standing.hands.get(actor or "", ())
            hands = standing.hands if actor is None else {**standing.hands, actor: (*mine, body.step)}
            return {"load": loaded, "hands": hands}
        case words.ItemUnloaded() if standing.load is not None and standing.load.load == body.load:
            settled = standing.load.judged or body.cause != "unloaded"
            return {"load": None if settled else replace(standing.load, out=True)}
        case _:
            return {}


def step_failed(standing: Standing, step: str) -> dict[str, Any]:
    """Returns how an item stands to its load once the step that the load does was told to have failed for it."""
    bound = standing.load
    return {"load": replace(bound, failed=True)} if bound is not None and bound.step == step else {}


def judged(standing: Standing, load: str | None) -> dict[str, Any]:
    """Returns how an item stands to a load that passed or failed: an item that is still inside stays bound to it."""
    bound = standing.load
    if load is None or bound is None or bound.load != load:
        return {}
    return {"load": None if bound.out else replace(bound, judged=True)}
