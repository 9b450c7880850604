"""What can be asked of the engine: facts, which are never refused, and advances, which may be.

Requests are plain frozen values; instants are microseconds since the epoch, readings are decimal text.
"""

from __future__ import annotations

from reprocess.engine.request.access import AccessRequest, IssueToken, RotateKey, SetPin, UnlockSignIn, WithdrawToken
from reprocess.engine.request.assembling import Assemble
from reprocess.engine.request.cases import (
    ActOnCase,
    CaseRequest,
    CloseCase,
    DecideCase,
    GradeUse,
    ListNames,
    ReadCase,
    SettleReport,
    TellWearer,
)
from reprocess.engine.request.custody import (
    DedicateItem,
    HandOn,
    IdentifyWearer,
    IssueItem,
    LendItem,
    ReceiveItem,
    ReturnItem,
    SendItem,
)
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
from reprocess.engine.request.files import KeepFile
from reprocess.engine.request.further import Further
from reprocess.engine.request.identity import (
    DoubtIdentity,
    GiveTag,
    Recommission,
    SplitHistory,
    TypeCode,
    WithdrawTag,
)
from reprocess.engine.request.loads import (
    AddToLoad,
    EndLoad,
    FailLoad,
    OpenLoad,
    RemoveFromLoad,
    SetProgramme,
    StartLoad,
    UnloadLoad,
)
from reprocess.engine.request.lots import ClearLot, CountLot, RecallLot, ReceiveLot, UseLot
from reprocess.engine.request.paper import EnterForm, EnterLine, OffLimits
from reprocess.engine.request.places import (
    AlarmVapour,
    InspectUnit,
    OpenCabinet,
    OpenPlace,
    PutAway,
    ReadPlace,
    SealCabinet,
    TakeOut,
)
from reprocess.engine.request.recalls import CloseRecall, CommitRecall, PreviewRecall, PutInQuarantine
from reprocess.engine.request.repair import FinishRepair
from reprocess.engine.request.shapes import Checks, Counts, Readings
from reprocess.engine.request.signing import Consent, ReviewEntry, ReviewRefusals
from reprocess.engine.request.solutions import EndSolution, MakeSolution, TestSolution, TopUpSolution
from reprocess.engine.request.subscriptions import (
    ChangeSubscription,
    EndSubscription,
    MakeSubscription,
    RekeySubscription,
    ReplaySubscription,
)
from reprocess.engine.request.wearers import (
    ClearWearer,
    EraseName,
    FitTestWearer,
    PurgeNames,
    ReadNames,
    RegisterWearer,
    TraceWearer,
    TrainWearer,
    WearerLeaves,
)
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

LOT_REQUESTS = (ReceiveLot, UseLot, CountLot, RecallLot, ClearLot)
PLACE_REQUESTS = (OpenPlace, ReadPlace, AlarmVapour, OpenCabinet, SealCabinet)
UNIT_REQUESTS = (PutAway, TakeOut, InspectUnit, FinishRepair)

__all__ = [
    "LOT_REQUESTS",
    "PLACE_REQUESTS",
    "UNIT_REQUESTS",
    "AccessRequest",
    "ActOnCase",
    "AddToLoad",
    "AlarmVapour",
    "Assemble",
    "BreakDwell",
    "CaseRequest",
    "ChangeSubscription",
    "Checks",
    "ClearLot",
    "ClearWearer",
    "CloseCase",
    "CloseRecall",
    "CommitRecall",
    "Condemn",
    "Consent",
    "Contaminate",
    "Correct",
    "CountLot",
    "Counts",
    "DecideCase",
    "DedicateItem",
    "DoStep",
    "DoubtIdentity",
    "EndDwell",
    "EndLoad",
    "EndSolution",
    "EndSubscription",
    "EnterForm",
    "EnterLine",
    "EraseName",
    "FailLoad",
    "FailStep",
    "FinishRepair",
    "FitTestWearer",
    "Further",
    "GiveTag",
    "GradeUse",
    "HandOn",
    "IdentifyWearer",
    "InspectUnit",
    "IssueItem",
    "IssueToken",
    "ItemRequest",
    "KeepFile",
    "LendItem",
    "LiftHold",
    "ListNames",
    "MakeSolution",
    "MakeSubscription",
    "MoveCounted",
    "NoteItem",
    "OffLimits",
    "OpenCabinet",
    "OpenLoad",
    "OpenPlace",
    "PlaceHold",
    "PreviewRecall",
    "PurgeNames",
    "PutAway",
    "PutInQuarantine",
    "PutOn",
    "ReadCase",
    "ReadNames",
    "ReadPlace",
    "Readings",
    "RecallLot",
    "ReceiveItem",
    "ReceiveLot",
    "Recommission",
    "RegisterWearer",
    "RekeySubscription",
    "Release",
    "RemoveFromLoad",
    "ReplaySubscription",
    "ReportMethod",
    "Request",
    "ReturnItem",
    "ReviewEntry",
    "ReviewRefusals",
    "Rewet",
    "RotateKey",
    "SealCabinet",
    "SendItem",
    "SetAside",
    "SetPin",
    "SetProgramme",
    "SettleReport",
    "SolutionRequest",
    "SplitHistory",
    "StartDwell",
    "StartLoad",
    "SwapPart",
    "TakeOff",
    "TakeOut",
    "TellSignal",
    "TellWearer",
    "TestSolution",
    "TopUpSolution",
    "TraceWearer",
    "TrainWearer",
    "TypeCode",
    "Undo",
    "UnloadLoad",
    "UnlockSignIn",
    "UseLot",
    "WearRequest",
    "WearerLeaves",
    "WithdrawTag",
    "WithdrawToken",
]
