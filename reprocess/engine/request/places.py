"""Places, what lies in them, what their sensors show, and the cabinets that are inspected, opened and sealed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.further import Further
from reprocess.engine.request.shapes import Readings


@dataclass(frozen=True, slots=True)
class OpenPlace(Further):
    """Asks to make a place known, or to set it up anew.

    Attributes:
        sort: store, cabinet, quarantine, drying, drop-point, water-point or ward.
        zone: clean or dirty.
        par: how many ready units should lie there (Q07).
        limits: readings with their least and most, such as `{"temp_c": "5..30"}`.
        every_months: how often each unit in it is inspected (Q03, Q06).
        asks: readings that each inspection records.
        grade: the quality of the water that is taken there.
    """

    asked: ClassVar[str] = "open-place"
    place: str
    title: str
    sort: str
    zone: str
    par: int | None = None
    limits: dict[str, str] = field(default_factory=dict)
    seal: str | None = None
    every_months: int | None = None
    asks: tuple[str, ...] = ()
    grade: str | None = None


@dataclass(frozen=True, slots=True)
class PutAway(Further):
    """Asks to put an item in a place; only what is ready goes into a clean store (Q01)."""

    asked: ClassVar[str] = "put-away"
    item: str
    place: str


@dataclass(frozen=True, slots=True)
class TakeOut(Further):
    """States that an item was taken out of the place where it lay."""

    asked: ClassVar[str] = "take-out"
    item: str


@dataclass(frozen=True, slots=True)
class ReadPlace(Further):
    """States what a sensor of a place shows."""

    asked: ClassVar[str] = "read-place"
    place: str
    reading: str
    value: str
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class AlarmVapour(Further):
    """States that a vapour alarm sounds at a place, or that people smell it; never refused (L14)."""

    asked: ClassVar[str] = "alarm-vapour"
    place: str
    vapour: str


@dataclass(frozen=True, slots=True)
class InspectUnit(Further):
    """Asks to save the inspection of a unit in store (Q03-Q06); one that found something is a fact.

    Attributes:
        missing: the unit is not where it should be.
        seal_broken: the seal of the unit or of its cabinet is broken.
    """

    asked: ClassVar[str] = "inspect-unit"
    item: str
    findings: str | None = None
    action: str | None = None
    passed: bool = True
    missing: bool = False
    seal_broken: bool = False
    seal: str | None = None
    readings: Readings = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class OpenCabinet(Further):
    """States that a cabinet was opened in an emergency; whatever is not counted as present was taken (E28)."""

    asked: ClassVar[str] = "open-cabinet"
    place: str
    seal: str
    present: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SealCabinet(Further):
    """Asks to close a cabinet under a new seal, with the units that are in it now."""

    asked: ClassVar[str] = "seal-cabinet"
    place: str
    seal: str
    units: tuple[str, ...]
