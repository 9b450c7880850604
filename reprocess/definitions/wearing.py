"""Wearing: what the person does who puts an assembly on, wears it and takes it off, as data of its workflow.

Putting on is a sequence that can be refused; what happens while it is worn, and how it was taken off, are facts.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from reprocess.definitions.block import LINES_MAX, Frozen, Key, Name, Seconds, Several, Sourced, Word
from reprocess.definitions.lines import Check, Count, Reading


class WearStep(Frozen):
    """Is one step of putting on or taking off.

    Attributes:
        observed: whether a second person watches and scans too.
        instrument: kind of the measuring instrument that must be named (M02).
        caution: key of the caution shown with the step.
    """

    step: Name
    title: Word
    observed: bool = False
    instrument: Name | None = None
    caution: Key | None = None
    checks: Annotated[tuple[Check, ...], Several, Field(max_length=LINES_MAX)] = ()
    readings: Annotated[tuple[Reading, ...], Several, Field(max_length=LINES_MAX)] = ()
    counts: Annotated[tuple[Count, ...], Several, Field(max_length=LINES_MAX)] = ()


class Signal(Sourced):
    """Is what a wearer hears, sees or feels, and what it asks of them, in the order in which to do it.

    Attributes:
        left_s: about how long the wearer still has; a reminder rings when it is over.
        hold: whether the assembly is held for it, so that nobody else wears it.
        run_of: the slot of the part that runs down while it is worn, such as the battery; with `run_s`, how long it
            should run before this signal. One that comes much sooner calls for a test of that part (B06).
    """

    signal: Name
    text: Word
    left_s: Seconds | None = None
    hold: bool = False
    run_of: Name | None = None
    run_s: Seconds | None = None
    asks: Annotated[tuple[Word, ...], Several, Field(min_length=1, max_length=LINES_MAX)]

    @model_validator(mode="after")
    def _a_run_is_of_a_part(self) -> Self:
        if (self.run_of is None) != (self.run_s is None):
            message = "`run_of` and `run_s` stand together"
            raise ValueError(message)
        return self


class Swap(Frozen):
    """Is a part that may be changed while the assembly is worn (U12), and what is looked at afterwards."""

    slot: Name
    text: Word
    checks: Annotated[tuple[Check, ...], Several, Field(max_length=LINES_MAX)] = ()


class Trace(Frozen):
    """Is what can be seen on the assembly when it is taken off; the first one in the file is the gravest (U08)."""

    trace: Name
    text: Word
    contamination_class: Name


class Wearing(Frozen):
    """Is the wearer's sequence: put on in order, heed the signals, swap what may be swapped, take off in order."""

    follows: Word
    put_on: Annotated[tuple[WearStep, ...], Several, Field(min_length=1, max_length=LINES_MAX)]
    signals: Annotated[tuple[Signal, ...], Several, Field(max_length=LINES_MAX)] = ()
    swaps: Annotated[tuple[Swap, ...], Several, Field(max_length=LINES_MAX)] = ()
    take_off: Annotated[tuple[WearStep, ...], Several, Field(min_length=1, max_length=LINES_MAX)]
    traces: Annotated[tuple[Trace, ...], Several, Field(max_length=LINES_MAX)] = ()

    @model_validator(mode="after")
    def _taking_off_is_told_not_judged(self) -> Self:
        if any(step.readings or step.counts or step.instrument for step in self.take_off):
            message = "taking off is only told, so its steps have no `readings`, `counts` or `instrument`"
            raise ValueError(message)
        return self
