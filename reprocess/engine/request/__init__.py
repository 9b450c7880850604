"""What can be asked of the engine: facts, which are never refused, and advances, which may be.

Requests are plain frozen values; instants are microseconds since the epoch, readings are decimal text.
"""

from __future__ import annotations

from reprocess.engine.request.assembling import Assemble
from reprocess.engine.request.cycle import (
    BreakDwell,
    Correct,
    DoStep,
    EndDwell,
    FailStep,
    Release,
    Rewet,
    StartDwell,
    Undo,
)
from reprocess.engine.request.facts import (
    Condemn,
    Contaminate,
    LiftHold,
    MoveCounted,
    NoteItem,
    PlaceHold,
    ReportMethod,
    SetAside,
)
from reprocess.engine.request.further import Further
from reprocess.engine.request.shapes import Checks, Counts, Readings
from reprocess.engine.request.solutions import EndSolution, MakeSolution, TestSolution, TopUpSolution
from reprocess.engine.request.wearing import PutOn, SwapPart, TakeOff, TellSignal

WearRequest = PutOn | TakeOff | TellSignal | SwapPart
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
Request = ItemRequest | SolutionRequest | Further

__all__ = [
    "Assemble",
    "BreakDwell",
    "Checks",
    "Condemn",
    "Contaminate",
    "Correct",
    "Counts",
    "DoStep",
    "EndDwell",
    "EndSolution",
    "FailStep",
    "Further",
    "ItemRequest",
    "LiftHold",
    "MakeSolution",
    "MoveCounted",
    "NoteItem",
    "PlaceHold",
    "PutOn",
    "Readings",
    "Release",
    "ReportMethod",
    "Request",
    "Rewet",
    "SetAside",
    "SolutionRequest",
    "StartDwell",
    "SwapPart",
    "TakeOff",
    "TellSignal",
    "TestSolution",
    "TopUpSolution",
    "Undo",
    "WearRequest",
]
