"""Exposure cases: who wore what should not have been ready, what was found of it, decided and done (H07)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Texts

Grade = Literal["gross", "lower"]
"""How likely an exposure was: a gross failure, or a lower likelihood."""
Told = Literal["in-person", "telephone", "letter", "message", "not-reached"]
"""How a wearer was told, or that the wearer could not be reached."""


@dataclass(frozen=True, slots=True)
class ExposedUse:
    """Is one use of an item in a cycle that is in doubt: by whom (a pseudonym), where, from when to when."""

    item: str
    cycle: int
    whole: str
    wearer: str
    from_us: int
    place: str | None = None
    until_us: int | None = None


class CaseOpened(Body):
    """Says that items in doubt were worn, and by whom; other people decide what follows (H06, H07)."""

    kind: ClassVar[str] = "case-opened"
    rule: str
    cause: str
    items: Texts
    uses: tuple[ExposedUse, ...]


class CaseRead(Body):
    """Says that somebody, the entry's actor, looked into the case."""

    kind: ClassVar[str] = "case-read"


class CaseGraded(Body):
    """Says how likely the exposure was in one use, by the use's number in the case, from 1, and why."""

    kind: ClassVar[str] = "case-graded"
    use: int
    grade: Grade
    because: str


class CaseDecided(Body):
    """Says whether the wearers are told, and why."""

    kind: ClassVar[str] = "case-decided"
    notify: bool
    because: str


class CaseListed(Body):
    """Says that the list of those to be told was given out with their names, for the how manieth time."""

    kind: ClassVar[str] = "case-listed"
    copy_number: int
    wearers: int


class CaseTold(Body):
    """Says how one wearer was told, or that the wearer was not reached."""

    kind: ClassVar[str] = "case-told"
    wearer: str
    how: Told


class CaseActed(Body):
    """Says what was done so that it does not happen again."""

    kind: ClassVar[str] = "case-acted"
    action: str


class CaseReportSettled(Body):
    """Says whether risk management reports the case to an authority, and why; a legal decision, made elsewhere."""

    kind: ClassVar[str] = "case-report-settled"
    report: bool
    because: str


class CaseClosed(Body):
    """Says that nothing is left to do, how many of those to be told were told, and whether what was done works."""

    kind: ClassVar[str] = "case-closed"
    effectiveness: str
    told: int
    wearers: int
