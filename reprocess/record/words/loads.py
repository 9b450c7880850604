"""Loads of a machine: what went in, what its logger recorded, what came out, and whether it passed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from reprocess.record.words.body import Answers, Body, Counts, Readings, Texts


@dataclass(frozen=True, slots=True)
class Dose:
    """Is the dose of heat that a record shows, with what it depends on; decimal text, seconds and degrees Celsius."""

    a0_s: str
    floor_c: str
    sampling: str


class MachineProgrammeSet(Body):
    """Says that a machine has a programme: how hot it gets at most, and how long it takes (W02)."""

    kind: ClassVar[str] = "machine-programme-set"
    programme: str
    hottest_c: str
    lasts_s: int


class MachineStarted(Body):
    """Says that a machine runs a load from now on."""

    kind: ClassVar[str] = "machine-started"
    load: str


class MachineStopped(Body):
    """Says that a machine no longer runs a load, and which logger record came of it, by digest."""

    kind: ClassVar[str] = "machine-stopped"
    load: str
    record: str | None = None


class LoadOpened(Body):
    """Says that a load is being made up for a machine and one of its programmes (W01)."""

    kind: ClassVar[str] = "load-opened"
    machine: str
    programme: str
    hottest_c: str
    lasts_s: int
    site: str


class LoadAdded(Body):
    """Says which items went into the load, each with its cycle (W01, W02, W05)."""

    kind: ClassVar[str] = "load-added"
    items: Counts


class LoadRemoved(Body):
    """Says which items are not in the load after all: taken out before its start, or never in it (W03).

    `counted` is how many items a recount found, where one was made.
    """

    kind: ClassVar[str] = "load-removed"
    items: Texts
    cause: Literal["removed", "not-present"]
    counted: int | None = None


class LoadStarted(Body):
    """Says that the machine began with so many items in it."""

    kind: ClassVar[str] = "load-started"
    items: int


class LoadEnded(Body):
    """Says that the machine stopped; `interrupted` by a power cut or an opened door, `resumed` on what evidence (W08).

    Nothing has passed by that alone (W07).
    """

    kind: ClassVar[str] = "load-ended"
    interrupted: bool = False
    resumed: str | None = None


class LoadRecorded(Body):
    """Keeps what is known of the cycle: the logger's record by digest and in short, readings, indicators (W07, G11).

    `source` is `logger`, or `strip-chart` where two people typed it in. Times are whole seconds; degrees Celsius are
    decimal text as recorded.
    """

    kind: ClassVar[str] = "load-recorded"
    source: Literal["logger", "strip-chart"]
    record: str
    samples: int
    lasted_s: int
    lowest_c: str
    hottest_c: str
    gap_s_max: int
    doses: tuple[Dose, ...]
    logger: str | None = None
    readings: Readings = {}
    checks: Answers = {}
    indicators: Answers = {}


class LoadPassed(Body):
    """Says that the load passed on its record, and which items it counts for.

    `awaits` are the indicators that are still to be read, where the files of all items let two people release ahead of
    them (G11); said again without any, it says that they were read and good.
    """

    kind: ClassVar[str] = "load-passed"
    items: Texts
    left_out: Texts = ()
    awaits: Texts | None = None


class LoadFailed(Body):
    """Says that the load did not pass, or did not after all; nothing that rests on it counts (W06).

    `out` are the items of it that were with somebody then, to be found and brought back (H05).
    """

    kind: ClassVar[str] = "load-failed"
    rule: str
    cause: str
    because: str
    items: Texts
    out: Texts = ()


class LoadUnloaded(Body):
    """Says which items were scanned out, and what a finished unloading showed missing or found beside them (W04)."""

    kind: ClassVar[str] = "load-unloaded"
    items: Texts
    finished: bool
    missing: Texts = ()
    strange: Texts = ()


class LoadRecounted(Body):
    """Says that two people counted the load again, item by item, and that it is as the record has it (W03, W04)."""

    kind: ClassVar[str] = "load-recounted"
    items: Texts


class ItemLoaded(Body):
    """Says that an item is in a load from now on, and which of its steps the load is to do."""

    kind: ClassVar[str] = "item-loaded"
    load: str
    cycle: int
    step: str


class ItemUnloaded(Body):
    """Says that an item is in a load no longer: scanned out, taken out before the start, never in it, or a stranger.

    `cause` is one of unloaded, removed, not-present, found.
    """

    kind: ClassVar[str] = "item-unloaded"
    load: str
    cause: Literal["unloaded", "removed", "not-present", "found"]
