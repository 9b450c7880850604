"""Issue and return, loans and transfers: who has an item."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.further import Further
from reprocess.engine.request.shapes import Checks, Counts, Readings


@dataclass(frozen=True, slots=True)
class IssueItem(Further):
    """Asks to issue an item or an assembly to a wearer, looked over by whoever takes it (U01, U03).

    Attributes:
        wearer: a pseudonym; None only from an emergency, to be named within four hours.
        minutes: how long it is expected to be worn.
    """

    asked: ClassVar[str] = "issue-item"
    item: str
    wearer: str | None
    place: str
    purpose: str = "care"
    minutes: int | None = None
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class IdentifyWearer(Further):
    """States who has, or had, what was issued to nobody on record, or a part of it that was kept (U01).

    Attributes:
        number: the entry of that issue; needed only where several wait for a name.
    """

    asked: ClassVar[str] = "identify-wearer"
    item: str
    wearer: str
    number: int | None = None


@dataclass(frozen=True, slots=True)
class HandOn(Further):
    """Asks to put an issued item on once more: the same wearer within one shift; nobody else without a cycle (U06)."""

    asked: ClassVar[str] = "hand-on"
    item: str
    wearer: str


@dataclass(frozen=True, slots=True)
class ReturnItem(Further):
    """States the fact that an item came back: where, with which parts, and what was seen on it; never refused.

    Attributes:
        place: the drop point; the station's own where absent (U07).
        parts: the parts that were scanned; None where nobody looked.
        missing: parts that are not there, by id or by slot (U11).
        used: whether it was worn at all; it is cleaned either way.
        cut_off: whether it was cut off its wearer (E29); `incident` is the reference of the report.
    """

    asked: ClassVar[str] = "return-item"
    item: str
    place: str | None = None
    parts: tuple[str, ...] | None = None
    missing: tuple[str, ...] = ()
    contamination_class: str = "routine"
    soiled: bool = False
    used: bool = True
    fault: str | None = None
    cut_off: bool = False
    incident: str | None = None
    use_ended_us: int | None = None


@dataclass(frozen=True, slots=True)
class LendItem(Further):
    """Asks to lend an item outside the network until an instant (U14)."""

    asked: ClassVar[str] = "lend-item"
    item: str
    to: str
    due_us: int


@dataclass(frozen=True, slots=True)
class SendItem(Further):
    """Asks to send an item to another site; `clean` says that it goes in clean closed packaging (E15, P11)."""

    asked: ClassVar[str] = "send-item"
    item: str
    to: str
    container: str | None = None
    clean: bool = False


@dataclass(frozen=True, slots=True)
class ReceiveItem(Further):
    """States the fact that an item arrived at this site; `intact` says that its packaging was closed and whole."""

    asked: ClassVar[str] = "receive-item"
    item: str
    intact: bool = True


@dataclass(frozen=True, slots=True)
class DedicateItem(Further):
    """Asks to keep an item for one place or one wearer; with neither, it serves everybody again (C07, C11)."""

    asked: ClassVar[str] = "dedicate-item"
    item: str
    place: str | None = None
    wearer: str | None = None
