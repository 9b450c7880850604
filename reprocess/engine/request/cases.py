"""What is done with an exposure case, in the order of the trade: look, grade, decide, tell, act, close."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class ReadCase(Further):
    """Asks to look into a case; that it was looked into is on record."""

    asked: ClassVar[str] = "read-case"
    case: str


@dataclass(frozen=True, slots=True)
class GradeUse(Further):
    """Asks to record how likely the exposure was in one use, by its number in the case."""

    asked: ClassVar[str] = "grade-use"
    case: str
    use: int
    grade: str
    because: str


@dataclass(frozen=True, slots=True)
class DecideCase(Further):
    """Asks to record whether the wearers are told."""

    asked: ClassVar[str] = "decide-case"
    case: str
    notify: bool
    because: str


@dataclass(frozen=True, slots=True)
class ListNames(Further):
    """Asks for the list of those to be told, with their names."""

    asked: ClassVar[str] = "list-names"
    case: str


@dataclass(frozen=True, slots=True)
class TellWearer(Further):
    """Asks to record how one wearer was told, or that the wearer was not reached."""

    asked: ClassVar[str] = "tell-wearer"
    case: str
    wearer: str
    how: str


@dataclass(frozen=True, slots=True)
class ActOnCase(Further):
    """Asks to record what was done so that it does not happen again."""

    asked: ClassVar[str] = "act-on-case"
    case: str
    action: str


@dataclass(frozen=True, slots=True)
class SettleReport(Further):
    """Asks to record whether risk management reports the case to an authority."""

    asked: ClassVar[str] = "settle-report"
    case: str
    report: bool
    because: str


@dataclass(frozen=True, slots=True)
class CloseCase(Further):
    """Asks to close a case, saying whether what was done works."""

    asked: ClassVar[str] = "close-case"
    case: str
    effectiveness: str


CaseRequest = ReadCase | GradeUse | DecideCase | ListNames | TellWearer | ActOnCase | SettleReport | CloseCase
