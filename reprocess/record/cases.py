"""The standing of an exposure case."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import ExposedUse
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Case:
    """Is an exposure case: what is in doubt and who wore it (H07)."""

    case: str
    rule: str = ""
    cause: str = ""
    items: tuple[str, ...] = ()
    uses: tuple[ExposedUse, ...] = ()
    opened_us: int = 0
    number: int = 0


def apply(case: Case, entry: Entry) -> Case:
    """Returns the case after one more entry of its stream."""
    body = entry.body
    after = replace(case, case=subject_of(entry.stream), number=entry.number)
    match body:
        case words.CaseOpened():
            opened = case.opened_us or entry.at_us
            return replace(after, rule=body.rule, cause=body.cause, items=body.items, uses=body.uses, opened_us=opened)
        case _:
            return after
