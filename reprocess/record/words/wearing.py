"""Putting on, wearing and taking off."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Answers, Body, Counts, Readings, Texts


class WearStepDone(Body):
    """Says that a step of putting an assembly on was done well, or that a step of taking it off was done.

    `begins` says that putting on began anew with this step; `strayed` that taking off did not keep its order, or that
    nobody watched where somebody should; `unissued` that nobody had issued what was then put on or,
    with nothing on record before, taken off.
    """

    kind: ClassVar[str] = "wear-step-done"
    phase: Literal["put-on", "take-off"]
    step: str
    done: bool
    checks: Answers = {}
    readings: Readings = {}
    counts: Counts = {}
    limits: dict[str, str] = {}
    instrument: str | None = None
    traces: Texts = ()
    begins: Literal[True] | None = None
    strayed: Literal[True] | None = None
    unissued: Literal[True] | None = None


class WearSignalled(Body):
    """Says what a wearer heard, saw or felt, and about how long that leaves."""

    kind: ClassVar[str] = "wear-signalled"
    signal: str
    left_s: int | None = None


class PartSwapped(Body):
    """Says that a part was changed while the assembly was worn: which one came out, which one went in (U12)."""

    kind: ClassVar[str] = "part-swapped"
    slot: str
    out: str
    into: str
    checks: Answers = {}
