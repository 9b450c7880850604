"""Steps, their clocks and the release."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.shapes import Checks, Counts, Readings
from reprocess.rules.asked import Late


@dataclass(frozen=True, slots=True)
class DoStep:
    """Asks to have a step without a clock accepted as done; a `no` among the checks makes it a reported failure.

    Attributes:
        reason: why the step was faster than the human floor (T15).
        lot: the lot that was used, such as of the detergent (L10).
        water: the place that the water of a rinse came from (L11).
    """

    asked: ClassVar[str] = "do-step"
    item: str
    step: str
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    instrument: str | None = None
    reason: str | None = None
    late: Late | None = None
    lot: str | None = None
    water: str | None = None


@dataclass(frozen=True, slots=True)
class FailStep:
    """States the fact that a step did not pass, with defect codes."""

    asked: ClassVar[str] = "fail-step"
    item: str
    step: str
    defects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StartDwell:
    """Asks to start the clock of a dwell: which solution or lot, at which temperature, with which instrument."""

    asked: ClassVar[str] = "start-dwell"
    item: str
    step: str
    solution: str | None = None
    agent: str | None = None
    temp_c: str | None = None
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class Rewet:
    """States that the surface was wetted again."""

    asked: ClassVar[str] = "rewet"
    item: str


@dataclass(frozen=True, slots=True)
class BreakDwell:
    """States the fact that a dwell was interrupted: dried, removed, rinsed, moved, opened."""

    asked: ClassVar[str] = "break-dwell"
    item: str
    cause: str


@dataclass(frozen=True, slots=True)
class EndDwell:
    """Asks to confirm the end of a dwell.

    Attributes:
        undisturbed: that nobody touched the bath during time that no clock observed (E07).
        trace: seconds and degrees Celsius of a thermal dwell, as decimal text.
        late: both ends of a dwell that only a form tells of (D05); `solution` and `instrument` then name with what.
    """

    asked: ClassVar[str] = "end-dwell"
    item: str
    step: str | None = None
    temp_c: str | None = None
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    undisturbed: bool = False
    trace: tuple[tuple[str, str], ...] = ()
    late: Late | None = None
    solution: str | None = None
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class Release:
    """Asks to call an item ready; all gates are judged together."""

    asked: ClassVar[str] = "release"
    item: str
    checks: Checks = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Undo:
    """Asks to take back the latest entry of an item as a mis-scan (E14)."""

    asked: ClassVar[str] = "undo"
    item: str


@dataclass(frozen=True, slots=True)
class Correct:
    """Asks to correct what an earlier entry of an item says; a second person signs (D01, S06).

    `mistaken` says that the entry was about another item altogether (E14).
    """

    asked: ClassVar[str] = "correct"
    item: str
    number: int
    reason: str
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    note: str | None = None
    mistaken: bool = False
