"""What is written when something in doubt was worn: one exposure case a cause (H06, H07)."""

from __future__ import annotations

from dataclasses import replace

from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.record.entry import Draft
from reprocess.record.touching import UNKNOWN_WEARER
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


def named_in_cases(scene: Scene, from_us: int, wearer: str) -> list[Draft]:
    """Returns that each case with the use of nobody known, which began then, is about this wearer (H07, U01)."""
    found = []
    for case in scene.states.values():
        if not isinstance(case, Case):
            continue
        nobody = [use for use in case.uses if (use.wearer, use.from_us) == (UNKNOWN_WEARER, from_us)]
        mine = tuple(replace(use, wearer=wearer) for use in nobody if use.whole == scene.item.item)
        if mine:
            items = tuple(sorted({use.item for use in mine}))
            body = words.CaseOpened(rule=case.rule, cause=case.cause, items=items, uses=mine)
            found.append(Draft(stream(StreamKind.CASE, case.case), body))
    return found


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
