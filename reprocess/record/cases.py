"""The standing of an exposure case."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.touching import UNKNOWN_WEARER
from reprocess.record.words import Body, ExposedUse
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Case:
    """Is an exposure case: what is in doubt, who wore it, and what was found, decided and done (H07).

    Attributes:
        uses: every use in doubt; its number in the case counts from 1 and never changes.
        grades: how likely the exposure was, by the use's number as text.
        asked_us: since when a decision is asked: when uses were last added.
        asked_number: the entry that added them.
        notify: whether the wearers are told, or None while nobody decided.
        told: how each wearer was told, or `not-reached`.
        copies: how often the list with names was given out.
        actions: what was done so that it does not happen again.
        report: whether an authority is told, or None while that is not settled.
        closed_us: when it was closed, or None.
    """

    case: str
    rule: str = ""
    cause: str = ""
    items: tuple[str, ...] = ()
    uses: tuple[ExposedUse, ...] = ()
    grades: dict[str, str] = field(default_factory=dict)
    opened_us: int = 0
    asked_us: int = 0
    asked_number: int = 0
    notify: bool | None = None
    told: dict[str, str] = field(default_factory=dict)
    copies: int = 0
    actions: tuple[str, ...] = ()
    report: bool | None = None
    closed_us: int | None = None
    number: int = 0

    @property
    def wearers(self) -> tuple[str, ...]:
        """Returns the pseudonyms concerned, each once."""
        return tuple(dict.fromkeys(use.wearer for use in self.uses))

    @property
    def ungraded(self) -> tuple[int, ...]:
        """Returns the numbers of the uses that nobody graded yet."""
        return tuple(number for number in range(1, len(self.uses) + 1) if str(number) not in self.grades)

    @property
    def untold(self) -> tuple[str, ...]:
        """Returns the wearers of whom it is not on record yet that they were told or could not be reached."""
        return tuple(one for one in self.wearers if one not in self.told)


def apply(case: Case, entry: Entry) -> Case:
    """Returns the case after one more entry of its stream."""
    body = entry.body
    after = replace(case, case=subject_of(entry.stream), number=entry.number)
    match body:
        case words.CaseOpened():
            return _opened(after, body, entry)
        case words.CaseGraded():
            return replace(after, grades={**case.grades, str(body.use): body.grade})
        case words.CaseDecided():
            return replace(after, notify=body.notify)
        case words.CaseReportSettled():
            return replace(after, report=body.report)
        case words.CaseClosed():
            return replace(after, closed_us=entry.at_us)
        case _:
            return _done(after, body)


def _done(case: Case, body: Body) -> Case:
    match body:
        case words.CaseListed():
            return replace(case, copies=case.copies + 1)
        case words.CaseTold():
            return replace(case, told={**case.told, body.wearer: body.how})
        case words.CaseActed():
            return replace(case, actions=(*case.actions, body.action))
        case _:
            return case


def _opened(case: Case, body: words.CaseOpened, entry: Entry) -> Case:
    """Returns the case with more uses: what was decided of fewer counts no more, what was graded and told stays."""
    return replace(
        case,
        rule=case.rule or body.rule,
        cause=case.cause or body.cause,
        items=tuple(sorted({*case.items, *body.items})),
        uses=_merged(case.uses, body.uses),
        opened_us=case.opened_us or entry.at_us,
        asked_us=entry.at_us,
        asked_number=entry.number,
        notify=None,
        report=None,
        closed_us=None,
    )


def _merged(known: tuple[ExposedUse, ...], more: tuple[ExposedUse, ...]) -> tuple[ExposedUse, ...]:
    """Returns all uses, each once and under its old number.

    A use that has ended meanwhile says when, and one of nobody known says who it was.
    """
    named = {_which(use): use for use in more if use.wearer != UNKNOWN_WEARER}
    merged: dict[tuple[str, int, str, int, str], ExposedUse] = {}
    for use in (*known, *more):
        of_it = named.get(_which(use), use) if use.wearer == UNKNOWN_WEARER else use
        merged[*_which(of_it), of_it.wearer] = of_it
    return tuple(merged.values())


def _which(use: ExposedUse) -> tuple[str, int, str, int]:
    return (use.item, use.cycle, use.whole, use.from_us)
