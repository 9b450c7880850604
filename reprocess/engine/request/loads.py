"""Loads of a machine: made up, run, judged on their record, unloaded and counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.further import Further
from reprocess.engine.request.shapes import Checks, Readings


@dataclass(frozen=True, slots=True)
class SetProgramme(Further):
    """Asks to keep a programme of a machine: its highest temperature in degC, and how many seconds it takes (W02)."""

    asked: ClassVar[str] = "set-programme"
    machine: str
    programme: str
    hottest_c: str
    lasts_s: int


@dataclass(frozen=True, slots=True)
class OpenLoad(Further):
    """Asks to make up a load for a machine and one of its programmes (W01)."""

    asked: ClassVar[str] = "open-load"
    load: str
    machine: str
    programme: str


@dataclass(frozen=True, slots=True)
class AddToLoad(Further):
    """Asks to put items into a load that is open; all of them or none (W02, W05)."""

    asked: ClassVar[str] = "add-to-load"
    load: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RemoveFromLoad(Further):
    """Asks to take items out of a load again before it starts, or claims that they never were in it (W03).

    Attributes:
        counted: how many items a recount found; needed once the machine began.
    """

    asked: ClassVar[str] = "remove-from-load"
    load: str
    items: tuple[str, ...]
    counted: int | None = None


@dataclass(frozen=True, slots=True)
class StartLoad(Further):
    """Asks to start the machine with this load (W01)."""

    asked: ClassVar[str] = "start-load"
    load: str


@dataclass(frozen=True, slots=True)
class EndLoad(Further):
    """States that the machine stopped, and what is known of the cycle; a load without its record has not passed (W07).

    Said again, it brings what was missing.

    Attributes:
        record: the text of the logger's file; of the strip chart, typed in, where `by_hand`.
        logger: the instrument that recorded it.
        indicators: results of indicators, by name.
        interrupted: whether the power failed or the door was opened (W08).
        resumed: what shows that the machine went on as it must, such as the number of its statement.
        file: the name of the record's file, where it lies beside the ledger under its digest already.
    """

    asked: ClassVar[str] = "end-load"
    load: str
    record: str | None = None
    logger: str | None = None
    readings: Readings = field(default_factory=dict)
    checks: Checks = field(default_factory=dict)
    indicators: Checks = field(default_factory=dict)
    by_hand: bool = False
    interrupted: bool = False
    resumed: str | None = None
    file: str | None = None


@dataclass(frozen=True, slots=True)
class UnloadLoad(Further):
    """States which items were scanned out of a load (W04).

    Attributes:
        more: whether further items are still to be scanned; otherwise the load is counted now.
        recount: whether two people counted the whole load again; `items` are then all that are there.
    """

    asked: ClassVar[str] = "unload-load"
    load: str
    items: tuple[str, ...]
    more: bool = False
    recount: bool = False


@dataclass(frozen=True, slots=True)
class FailLoad(Further):
    """States that a load did not pass, or did not after all; never refused (W06, W08)."""

    asked: ClassVar[str] = "fail-load"
    load: str
    cause: str
    note: str
