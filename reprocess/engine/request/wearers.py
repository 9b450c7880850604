"""Wearers, by pseudonym: registered, trained, cleared, fit-tested; and what is done with their names."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class RegisterWearer(Further):
    """Asks to make a wearer known; the name comes beside the request, never in it."""

    asked: ClassVar[str] = "register-wearer"
    wearer: str
    unit: str


@dataclass(frozen=True, slots=True)
class TrainWearer(Further):
    """Asks to record until when a wearer's training counts."""

    asked: ClassVar[str] = "train-wearer"
    wearer: str
    until_us: int


@dataclass(frozen=True, slots=True)
class ClearWearer(Further):
    """Asks to record whether a wearer is cleared, and until when; never why."""

    asked: ClassVar[str] = "clear-wearer"
    wearer: str
    cleared: bool
    until_us: int | None = None


@dataclass(frozen=True, slots=True)
class FitTestWearer(Further):
    """Asks to record whether a model fits a wearer, and until when that counts."""

    asked: ClassVar[str] = "fit-test-wearer"
    wearer: str
    model: str
    fits: bool
    until_us: int | None = None


@dataclass(frozen=True, slots=True)
class WearerLeaves(Further):
    """Asks to record that a wearer is issued nothing any more."""

    asked: ClassVar[str] = "wearer-leaves"
    wearer: str


@dataclass(frozen=True, slots=True)
class TraceWearer(Further):
    """Asks to see everything that one wearer wore; that it was looked at is on record (H07)."""

    asked: ClassVar[str] = "trace-wearer"
    wearer: str


@dataclass(frozen=True, slots=True)
class ReadNames(Further):
    """Asks who these wearers are; that it was asked, by whom and for what, is on record (I21)."""

    asked: ClassVar[str] = "read-names"
    wearers: tuple[str, ...]
    why: str
    case: str | None = None


@dataclass(frozen=True, slots=True)
class EraseName(Further):
    """Asks to erase a wearer's name, because the wearer asks for it (E40)."""

    asked: ClassVar[str] = "erase-name"
    wearer: str


@dataclass(frozen=True, slots=True)
class PurgeNames(Further):
    """Asks to erase every name that is past its period (D12); naming some of them is refused."""

    asked: ClassVar[str] = "purge-names"
    wearers: tuple[str, ...] = ()
