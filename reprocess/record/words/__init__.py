"""The facts and advances that can be on record, as frozen bodies; the words here are stored and are for ever.

A body says what happened; the envelope around it (`entry.Entry`) says when, by whom, where and under which key.
Instants are microseconds since the epoch, decimals are text with the unit in the field's name, lists are sorted
by the writer. A change of a body's meaning is a new version of its kind beside the old one, never an edit; a field
that came later is None when absent.
"""

from __future__ import annotations

from typing import Final

from reprocess.record.words.assemblies import AssemblyBuilt, AssemblyDissolved, MemberJoined, MemberLeft
from reprocess.record.words.body import Answers, Body, Counts, EvidenceClass, Numbers, Readings, Texts
from reprocess.record.words.cases import CaseOpened, ExposedUse
from reprocess.record.words.custody import ItemIssued, ItemReturned
from reprocess.record.words.cycle import (
    ClockAnomaly,
    DelayFound,
    DwellBroken,
    DwellEnded,
    DwellStarted,
    DwellWetted,
    EntryCorrected,
    EntryUndone,
    ItemCommissioned,
    ItemContaminated,
    ItemReleased,
    StepDone,
    StepFailed,
    StepsFell,
)
from reprocess.record.words.department import (
    BadgeGiven,
    BadgeWithdrawn,
    CompetencyGranted,
    CompetencyWithdrawn,
    InstrumentFaulty,
    InstrumentRegistered,
    InstrumentVerified,
    PersonLeft,
    PersonRegistered,
    SiteOpened,
    StationOpened,
    WorkflowApproved,
    WorkflowPublished,
)
from reprocess.record.words.holds import HeldSighted, HoldLifted, HoldPlaced
from reprocess.record.words.life import (
    ItemCondemned,
    ItemInspectedInStore,
    ItemLost,
    ItemOpened,
    ItemSentToRepair,
    ItemSplit,
    ItemWorked,
)
from reprocess.record.words.solutions import (
    SolutionEnded,
    SolutionMade,
    SolutionTested,
    SolutionToppedUp,
    SolutionTouched,
)
from reprocess.record.words.stations import (
    AdvanceRefused,
    FactNoted,
    ReminderEscalated,
    ReminderRang,
    ReminderSeen,
    UnknownScanned,
)
from reprocess.record.words.wearing import PartSwapped, WearSignalled, WearStepDone

BODIES: Final[dict[tuple[str, int], type[Body]]] = {(one.kind, one.version): one for one in Body.__subclasses__()}
"""Every kind and version that was ever written."""

__all__ = [
    "BODIES",
    "AdvanceRefused",
    "Answers",
    "AssemblyBuilt",
    "AssemblyDissolved",
    "BadgeGiven",
    "BadgeWithdrawn",
    "Body",
    "CaseOpened",
    "ClockAnomaly",
    "CompetencyGranted",
    "CompetencyWithdrawn",
    "Counts",
    "DelayFound",
    "DwellBroken",
    "DwellEnded",
    "DwellStarted",
    "DwellWetted",
    "EntryCorrected",
    "EntryUndone",
    "EvidenceClass",
    "ExposedUse",
    "FactNoted",
    "HeldSighted",
    "HoldLifted",
    "HoldPlaced",
    "InstrumentFaulty",
    "InstrumentRegistered",
    "InstrumentVerified",
    "ItemCommissioned",
    "ItemCondemned",
    "ItemContaminated",
    "ItemInspectedInStore",
    "ItemIssued",
    "ItemLost",
    "ItemOpened",
    "ItemReleased",
    "ItemReturned",
    "ItemSentToRepair",
    "ItemSplit",
    "ItemWorked",
    "MemberJoined",
    "MemberLeft",
    "Numbers",
    "PartSwapped",
    "PersonLeft",
    "PersonRegistered",
    "Readings",
    "ReminderEscalated",
    "ReminderRang",
    "ReminderSeen",
    "SiteOpened",
    "SolutionEnded",
    "SolutionMade",
    "SolutionTested",
    "SolutionToppedUp",
    "SolutionTouched",
    "StationOpened",
    "StepDone",
    "StepFailed",
    "StepsFell",
    "Texts",
    "UnknownScanned",
    "WearSignalled",
    "WearStepDone",
    "WorkflowApproved",
    "WorkflowPublished",
]
