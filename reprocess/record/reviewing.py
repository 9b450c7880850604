"""Which entries a supervisor must look at, and as what: the one list that the queue is made from (D14, C20)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from reprocess.record import words
from reprocess.record.words import Body

REFUSED: Final = "refused"
"""The sort of refusals: they are counted by rule and station, never looked at one by one."""
OVERRIDE: Final = "override"
FLAG: Final = "competency"


def _always(sort: str) -> Callable[[Any], str | None]:
    return lambda _: sort


def _late(body: Any) -> str | None:
    return "attested" if body.evidence == "attested" else None


def _strayed(body: words.WearStepDone) -> str | None:
    return "wearing" if body.strayed else None


def _conflict(body: words.HoldPlaced) -> str | None:
    return "conflict" if body.rule == "D07" else None


_SORTS: Final[dict[type[Body], Callable[[Any], str | None]]] = {
    words.OverrideUsed: _always(OVERRIDE),
    words.OverridesMany: _always("overrides-many"),
    words.AdvanceRefused: _always(REFUSED),
    words.EntryCorrected: _always("correction"),
    words.ClockAnomaly: _always("clock"),
    words.StepFlagged: _always(FLAG),
    words.BadgeDoubted: _always("security"),
    words.LocksMany: _always("security"),
    words.StepDone: _late,
    words.DwellEnded: _late,
    words.WearStepDone: _strayed,
    words.HoldPlaced: _conflict,
}
"""The kinds of entry that can be unusual, each with what decides; a new sort is a line here."""

QUEUED_KINDS: Final = tuple(
    one.kind for one in _SORTS if one not in {words.StepDone, words.DwellEnded, words.WearStepDone}
)
"""Kinds of which a rebuild reads every entry; of the other ones it reads those that the record marks (refold)."""


def sort_of(body: Body) -> str | None:
    """Returns as what an entry waits for review, or None where nobody need look."""
    judge = _SORTS.get(type(body))
    return judge(body) if judge is not None else None


_RULES: Final[dict[type[Body], str]] = {
    words.EntryCorrected: "D01",
    words.ClockAnomaly: "D04",
    words.StepFlagged: "A06",
    words.BadgeDoubted: "E37",
    words.LocksMany: "D10",
    words.StepDone: "D05",
    words.DwellEnded: "D05",
    words.WearStepDone: "U03",
}


def rules_of(body: Body) -> tuple[str, ...]:
    """Returns the rules that an entry to be reviewed is about."""
    match body:
        case words.AdvanceRefused():
            return body.rules
        case words.OverrideUsed() | words.OverridesMany() | words.HoldPlaced():
            return (body.rule,)
        case _:
            return (_RULES[type(body)],)
