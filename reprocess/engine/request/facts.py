"""Facts about an item, holds, and what becomes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Contaminate:
    """States the fact that an item must start again: used, dropped, opened, mixed, touched, soaked, found, ..."""

    asked: ClassVar[str] = "contaminate"
    item: str
    cause: str
    contamination_class: str = "routine"
    use_ended_us: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ReportMethod:
    """States the fact that a method was used on an item, forbidden or not (P12)."""

    asked: ClassVar[str] = "report-method"
    item: str
    method: str


@dataclass(frozen=True, slots=True)
class PlaceHold:
    """States that an item must not be used until somebody decides; never refused.

    `evidence` and `notice` are references to what shows it and to a field notice (H02, H12).
    """

    asked: ClassVar[str] = "place-hold"
    item: str
    sort: str
    cause: str
    owner: str
    evidence: str | None = None
    notice: str | None = None


@dataclass(frozen=True, slots=True)
class LiftHold:
    """Asks to end one hold; the others stay (H02)."""

    asked: ClassVar[str] = "lift-hold"
    item: str
    hold: str
    disposition: str
    evidence: str | None = None


@dataclass(frozen=True, slots=True)
class Condemn:
    """Asks to take an item out of service for ever; two people (S03). `waste` says where it goes."""

    asked: ClassVar[str] = "condemn"
    item: str
    reason: str
    defects: tuple[str, ...] = ()
    waste: str | None = None


@dataclass(frozen=True, slots=True)
class SetAside:
    """States that an item went to repair or cannot be found.

    `statement` says which portions are still contaminated, where it goes to repair before it was cleaned.
    """

    asked: ClassVar[str] = "set-aside"
    item: str
    to: str
    note: str
    statement: str | None = None


@dataclass(frozen=True, slots=True)
class NoteItem:
    """States small facts of an item's life: opened, charge cycles, minutes of use, a look in store."""

    asked: ClassVar[str] = "note-item"
    item: str
    opened: bool = False
    charge_cycles: int = 0
    minutes: int = 0
    findings: str | None = None
    action: str | None = None
    passed: bool = True


@dataclass(frozen=True, slots=True)
class MoveCounted:
    """States that so many parts of a counted batch went into another batch."""

    asked: ClassVar[str] = "move-counted"
    item: str
    other: str
    quantity: int
