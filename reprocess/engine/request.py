"""What can be asked of the engine: facts, which are never refused, and advances, which may be.

Requests are plain frozen values; instants are microseconds since the epoch, readings are decimal text.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.rules.asked import Late

Checks = dict[str, bool]
Readings = dict[str, str]
Counts = dict[str, int]


@dataclass(frozen=True, slots=True)
class DoStep:
    """Asks to have a step without a clock accepted as done; a `no` among the checks makes it a reported failure.

    Attributes:
        reason: why the step was faster than the human floor (T15).
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
class Release:
    """Asks to call an item ready; all gates are judged together."""

    asked: ClassVar[str] = "release"
    item: str
    checks: Checks = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class PlaceHold:
    """States that an item must not be used until somebody decides; never refused."""

    asked: ClassVar[str] = "place-hold"
    item: str
    sort: str
    cause: str
    owner: str


@dataclass(frozen=True, slots=True)
class LiftHold:
    """Asks to end one hold; the others stay (H02)."""

    asked: ClassVar[str] = "lift-hold"
    item: str
    hold: str
    disposition: str


@dataclass(frozen=True, slots=True)
class Condemn:
    """Asks to take an item out of service for ever; two people (S03)."""

    asked: ClassVar[str] = "condemn"
    item: str
    reason: str
    defects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SetAside:
    """States that an item went to repair or cannot be found."""

    asked: ClassVar[str] = "set-aside"
    item: str
    to: str
    note: str


@dataclass(frozen=True, slots=True)
class Undo:
    """Asks to take back the latest entry of an item as a mis-scan (E14)."""

    asked: ClassVar[str] = "undo"
    item: str


@dataclass(frozen=True, slots=True)
class Correct:
    """Asks to correct what an earlier entry of an item says; a second person signs (D01, S06)."""

    asked: ClassVar[str] = "correct"
    item: str
    number: int
    reason: str
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Assemble:
    """Asks to put ready parts together under an approved configuration (C01-C05, C09, M07)."""

    asked: ClassVar[str] = "assemble"
    item: str
    configuration: str
    members: tuple[str, ...]
    counts: Counts = field(default_factory=dict)
    checks: Checks = field(default_factory=dict)


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


@dataclass(frozen=True, slots=True)
class MakeSolution:
    """States that a bath was made up or a container opened.

    Attributes:
        lot_expiry_us: the end of the lot's own life.
        hours: in-use life in hours where the site sets a shorter one.
        stock_percent: strength of the stock, mass per volume, where the bath is diluted.
    """

    asked: ClassVar[str] = "make-solution"
    solution: str
    agent: str
    lot: str
    lot_expiry_us: int
    hours: int | None = None
    stock_percent: str | None = None
    stock_parts: str | None = None
    water_parts: str | None = None
    one_in: str | None = None
    water_l: str | None = None
    temp_c: str | None = None


@dataclass(frozen=True, slots=True)
class TestSolution:
    """States what a strip test of a solution showed."""

    __test__: ClassVar[bool] = False
    asked: ClassVar[str] = "test-solution"
    solution: str
    strip_lot: str
    strip_expiry_us: int
    reading: str | None = None
    passed: bool | None = None
    control_run: bool = False
    read_after_s: int | None = None


@dataclass(frozen=True, slots=True)
class PutOn:
    """Asks to go on putting on an assembly: one step of its sequence, looked at by whoever will wear it (U03)."""

    asked: ClassVar[str] = "put-on"
    item: str
    step: str
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class TakeOff:
    """States the fact that a step of taking an assembly off was done, and what was seen on it; never refused."""

    asked: ClassVar[str] = "take-off"
    item: str
    step: str
    checks: Checks = field(default_factory=dict)
    traces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TellSignal:
    """States what a wearer heard, saw or felt; never refused."""

    asked: ClassVar[str] = "tell-signal"
    item: str
    signal: str


@dataclass(frozen=True, slots=True)
class SwapPart:
    """Asks to change a part of an assembly while it is worn, such as its battery (U12)."""

    asked: ClassVar[str] = "swap-part"
    item: str
    slot: str
    part: str
    checks: Checks = field(default_factory=dict)


WearRequest = PutOn | TakeOff | TellSignal | SwapPart


@dataclass(frozen=True, slots=True)
class TopUpSolution:
    """States that a solution was topped up; its expiry stays (L04)."""

    asked: ClassVar[str] = "top-up-solution"
    solution: str
    lot: str
    lot_expiry_us: int
    volume_l: str


@dataclass(frozen=True, slots=True)
class EndSolution:
    """States that a solution was dumped, spilled, is empty, was reported dry or is closed."""

    asked: ClassVar[str] = "end-solution"
    solution: str
    cause: str


ItemRequest = (
    DoStep
    | FailStep
    | StartDwell
    | Rewet
    | BreakDwell
    | EndDwell
    | Contaminate
    | ReportMethod
    | Release
    | PlaceHold
    | LiftHold
    | Condemn
    | SetAside
    | Undo
    | Correct
    | Assemble
    | NoteItem
    | MoveCounted
    | WearRequest
)
SolutionRequest = MakeSolution | TestSolution | TopUpSolution | EndSolution
Request = ItemRequest | SolutionRequest
