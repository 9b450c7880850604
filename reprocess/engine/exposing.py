"""What is written when something in doubt was worn: one exposure case a cause (H06, H07)."""

from __future__ import annotations

from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.words import ExposedUse
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream


def case_opened(scene: Scene, case: str, rule: str, cause: str) -> list[Draft]:
    """Returns the case of a cause, or nothing where nobody wore what is in doubt."""
    if not scene.uses:
        return []
    items = tuple(sorted({use.item for use in scene.uses}))
    body = words.CaseOpened(rule=rule, cause=cause, items=items, uses=scene.uses)
    return [Draft(stream(StreamKind.CASE, case), body)]


def told(case: str, uses: tuple[ExposedUse, ...]) -> list[Reason]:
    """Returns what the answer says about a case: how many uses and wearers; never who."""
    if not uses:
        return []
    wearers = len({use.wearer for use in uses})
    open_now = len({use.whole for use in uses if use.until_us is None})
    facts: dict[str, str | int | list[str]] = {
        "case": case,
        "uses": len(uses),
        "wearers": wearers,
        "out": open_now,
    }
    return [Reason("H06", "case-opened", facts, role="infection-prevention")]
