"""Every writing operation over HTTP, by noun: its address and the request that it asks the station.

A row here is a route, its schema, its documentation and its test; `writing.py` makes them from the request's own
fields. Instants named `..._us` in a request are `...` in RFC 3339 outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal

from reprocess.engine import enrolling, live
from reprocess.engine import request as asking
from reprocess.record import words
from reprocess.rules.permissions import operation_of


@dataclass(frozen=True, slots=True)
class Operation:
    """Is one writing operation.

    Attributes:
        path: its address under /v1; names in braces are fields of the request.
        request: the request's class, or the body that an `Enrol` writes.
        summary: what it does, for the documentation.
        subject: for a body: the stream that it is written into, with a name in braces from the path or the body.
        if_match: whether it changes master data, so that the caller says which version was read: `always`, `known`
            (only where the subject is on record already), or `never`, as with facts, which nobody may refuse.
    """

    path: str
    request: Any
    summary: str
    subject: str | None = None
    if_match: Literal["never", "known", "always"] = "never"

    @property
    def asked(self) -> str:
        """Returns the operation's own name."""
        return str(self.request.kind if self.subject is not None else self.request.asked)

    @property
    def permission(self) -> str:
        """Returns the operation's name in the table of permissions."""
        return operation_of("enrol", self.request.kind) if self.subject is not None else self.asked

    @property
    def tag(self) -> str:
        """Returns the noun that it belongs to."""
        return self.path.split("/")[1]


_ITEM: Final = "/items/{item}"
_LOAD: Final = "/loads/{load}"
_CASE: Final = "/cases/{case}"
_WEARER: Final = "/wearers/{wearer}"
_LOT: Final = "/lots/{lot}"
_SOLUTION: Final = "/solutions/{solution}"
_PLACE: Final = "/places/{place}"
_RECALL: Final = "/recalls/{recall}"
_SITE: Final = "site:{site}"
_PERSON: Final = "person:{person}"
_INSTRUMENT: Final = "instrument:{instrument}"

WRITES: Final[tuple[Operation, ...]] = (
    # An item through its cycle.
    Operation("/items", enrolling.Commission, "Make an item or a counted batch known"),
    Operation(f"{_ITEM}/steps", asking.DoStep, "Log a step without a clock"),
    Operation(f"{_ITEM}/failures", asking.FailStep, "Report that a step did not pass"),
    Operation(f"{_ITEM}/dwells", asking.StartDwell, "Start a clock: a contact, a soak, a drying"),
    Operation(f"{_ITEM}/dwells/rewet", asking.Rewet, "Wet the surface again"),
    Operation(f"{_ITEM}/dwells/broken", asking.BreakDwell, "Report that the clock counts no more"),
    Operation(f"{_ITEM}/dwells/ended", asking.EndDwell, "Confirm the end of a clock"),
    Operation(f"{_ITEM}/release", asking.Release, "Release it, or be told every reason why not"),
    Operation(f"{_ITEM}/undo", asking.Undo, "Take back the latest entry of one's own, within 60 s"),
    Operation(f"{_ITEM}/corrections", asking.Correct, "Correct an entry with a new one"),
    Operation(f"{_ITEM}/contaminations", asking.Contaminate, "Report use, a fall or another contamination"),
    Operation(f"{_ITEM}/methods", asking.ReportMethod, "Report how it was treated"),
    Operation(f"{_ITEM}/holds", asking.PlaceHold, "Place it on hold"),
    Operation(f"{_ITEM}/holds/{{hold}}/lift", asking.LiftHold, "Lift a hold"),
    Operation(f"{_ITEM}/condemn", asking.Condemn, "Condemn it"),
    Operation(f"{_ITEM}/aside", asking.SetAside, "Send it to repair, or report it lost"),
    Operation(f"{_ITEM}/repaired", asking.FinishRepair, "Report what a repair did"),
    Operation(f"{_ITEM}/notes", asking.NoteItem, "Note charging, minutes of use or a store check"),
    Operation(f"{_ITEM}/moved", asking.MoveCounted, "Move a number of a counted batch to another"),
    Operation(f"{_ITEM}/quarantine", asking.PutInQuarantine, "Put it in quarantine"),
    # Which thing it is.
    Operation(f"{_ITEM}/typed", asking.TypeCode, "Name it by typing instead of scanning"),
    Operation(f"{_ITEM}/tags", asking.GiveTag, "Give it a new tag"),
    Operation(f"{_ITEM}/tags/{{tag}}/withdraw", asking.WithdrawTag, "Withdraw a tag"),
    Operation(f"{_ITEM}/doubts", asking.DoubtIdentity, "Doubt which thing it is"),
    Operation(f"{_ITEM}/split", asking.SplitHistory, "Give entries back to the item that they are about"),
    Operation(f"{_ITEM}/rename", asking.Recommission, "Go on under a new id"),
    # Where it lies.
    Operation(f"{_ITEM}/put-away", asking.PutAway, "Put it in its place"),
    Operation(f"{_ITEM}/take-out", asking.TakeOut, "Take it out of its place"),
    Operation(f"{_ITEM}/inspections", asking.InspectUnit, "Inspect a stored unit"),
    Operation("/places", asking.OpenPlace, "Set up a place", if_match="known"),
    Operation(f"{_PLACE}/readings", asking.ReadPlace, "Read a place's temperature, humidity or pressure"),
    Operation(f"{_PLACE}/vapours", asking.AlarmVapour, "Report an alarm of a vapour"),
    Operation(f"{_PLACE}/opened", asking.OpenCabinet, "Report that a sealed cabinet was opened"),
    Operation(f"{_PLACE}/sealed", asking.SealCabinet, "Seal a cabinet"),
    # Solutions and lots.
    Operation("/solutions", asking.MakeSolution, "Make a bath or open a container"),
    Operation(f"{_SOLUTION}/tests", asking.TestSolution, "Test it"),
    Operation(f"{_SOLUTION}/top-ups", asking.TopUpSolution, "Top it up"),
    Operation(f"{_SOLUTION}/end", asking.EndSolution, "End its use"),
    Operation("/lots", asking.ReceiveLot, "Take in a lot"),
    Operation(f"{_LOT}/used", asking.UseLot, "Use some of it"),
    Operation(f"{_LOT}/counted", asking.CountLot, "Count what is left"),
    Operation(f"{_LOT}/recall", asking.RecallLot, "Recall it"),
    Operation(f"{_LOT}/clear", asking.ClearLot, "Clear a recalled lot"),
    # Loads.
    Operation("/loads", asking.OpenLoad, "Open a load"),
    Operation(f"{_LOAD}/items", asking.AddToLoad, "Put items in"),
    Operation(f"{_LOAD}/items/removed", asking.RemoveFromLoad, "Take items out before it runs"),
    Operation(f"{_LOAD}/start", asking.StartLoad, "Start it"),
    Operation(f"{_LOAD}/end", asking.EndLoad, "End it, with its record and readings"),
    Operation(f"{_LOAD}/unload", asking.UnloadLoad, "Unload it"),
    Operation(f"{_LOAD}/fail", asking.FailLoad, "Report afterwards that it failed"),
    Operation("/machines/{machine}/programmes", asking.SetProgramme, "Set a machine's programme", if_match="always"),
    # Assemblies, custody, wearing.
    Operation("/assemblies", asking.Assemble, "Put parts together"),
    Operation("/assemblies/{item}/wear/put-on", asking.PutOn, "Log a step of putting it on"),
    Operation("/assemblies/{item}/wear/take-off", asking.TakeOff, "Log a step of taking it off"),
    Operation("/assemblies/{item}/wear/signals", asking.TellSignal, "Report a signal while it is worn"),
    Operation("/assemblies/{item}/parts", asking.SwapPart, "Swap one part"),
    Operation("/custody/{item}/issue", asking.IssueItem, "Issue it"),
    Operation("/custody/{item}/return", asking.ReturnItem, "Take it back"),
    Operation("/custody/{item}/wearer", asking.IdentifyWearer, "Say afterwards who wore it"),
    Operation("/custody/{item}/hand-on", asking.HandOn, "Report that it was handed on"),
    Operation("/custody/{item}/lend", asking.LendItem, "Lend it"),
    Operation("/custody/{item}/send", asking.SendItem, "Send it to another site"),
    Operation("/custody/{item}/receive", asking.ReceiveItem, "Receive it"),
    Operation("/custody/{item}/dedicate", asking.DedicateItem, "Dedicate it to a place or a wearer"),
    # Recalls, cases, reviews.
    Operation("/recalls", asking.PreviewRecall, "Preview a recall; nothing is held yet"),
    Operation(f"{_RECALL}/commit", asking.CommitRecall, "Hold everything that it reaches"),
    Operation(f"{_RECALL}/close", asking.CloseRecall, "Close it"),
    Operation(f"{_CASE}/grades", asking.GradeUse, "Grade one use"),
    Operation(f"{_CASE}/decision", asking.DecideCase, "Decide whether wearers are told"),
    Operation(f"{_CASE}/told", asking.TellWearer, "Record that a wearer was told"),
    Operation(f"{_CASE}/actions", asking.ActOnCase, "Record an action"),
    Operation(f"{_CASE}/report", asking.SettleReport, "Settle whether it is reported"),
    Operation(f"{_CASE}/close", asking.CloseCase, "Close it"),
    Operation("/reviews/{feed}", asking.ReviewEntry, "Review an unusual entry"),
    Operation("/reviews", asking.ReviewRefusals, "Review the refusals so far"),
    Operation("/consents", asking.Consent, "Agree, as the second person, at one's own station"),
    # Wearers, by pseudonym.
    Operation(f"{_WEARER}/training", asking.TrainWearer, "Record a wearer's training"),
    Operation(f"{_WEARER}/clearance", asking.ClearWearer, "Record a clearance: yes or no, never why"),
    Operation(f"{_WEARER}/fit-tests", asking.FitTestWearer, "Record a fit test"),
    Operation(f"{_WEARER}/leave", asking.WearerLeaves, "Record that a wearer left"),
    Operation(f"{_WEARER}/name/erase", asking.EraseName, "Erase a wearer's name"),
    Operation("/wearers/names/purge", asking.PurgeNames, "Erase the names whose period is over"),
    # Paper.
    Operation("/forms", asking.EnterForm, "Begin to enter a numbered form"),
    # Sites, stations, people, instruments and files.
    Operation("/sites", words.SiteOpened, "Open a site", _SITE),
    Operation("/sites/{site}/quiet-hours", words.QuietHoursSet, "Set a role's quiet hours", _SITE),
    Operation("/sites/{site}/emergency", words.EmergencyDeclared, "Declare an emergency policy", _SITE),
    Operation("/sites/{site}/evaluated", words.ProgrammeEvaluated, "Record the yearly evaluation", _SITE),
    Operation("/stations/{station}", words.StationOpened, "Open a station", "station:{station}"),
    Operation("/people", words.PersonRegistered, "Register a person; with roles, two people sign", _PERSON),
    Operation("/people/{person}/left", words.PersonLeft, "Record that a person left", _PERSON, "always"),
    Operation("/people/{person}/badges", words.BadgeGiven, "Give a badge", _PERSON, "always"),
    Operation("/people/{person}/badges/withdrawn", words.BadgeWithdrawn, "Withdraw a badge", _PERSON, "always"),
    Operation("/people/{person}/competencies", words.CompetencyGranted, "Grant a competency", _PERSON, "always"),
    Operation(
        "/people/{person}/competencies/withdrawn",
        words.CompetencyWithdrawn,
        "Withdraw a competency",
        _PERSON,
        "always",
    ),
    Operation("/instruments", words.InstrumentRegistered, "Register an instrument", _INSTRUMENT),
    Operation(
        "/instruments/{instrument}/verified",
        words.InstrumentVerified,
        "Record an instrument's verification",
        _INSTRUMENT,
        "always",
    ),
    Operation(
        "/instruments/{instrument}/faulty",
        words.InstrumentFaulty,
        "Report that an instrument is faulty",
        _INSTRUMENT,
    ),
    Operation("/workflows", enrolling.Publish, "Propose the text of a file", if_match="known"),
    Operation("/workflows/{sort}/{name}/approve", enrolling.Approve, "Put a proposed text in force", None, "always"),
    Operation(
        "/workflows/{sort}/{name}/sources",
        live.ConfirmSources,
        "Confirm the sources of a file in force",
        None,
        "always",
    ),
    # The record itself.
    Operation("/keys", asking.RotateKey, "Seal the record with a new key from now on"),
)
"""Every writing operation that follows the common shape. Scans, results, names and sign-in have routes of their own."""

BY_HAND: Final = frozenset(
    {
        "keep-file",
        "register-wearer",
        "read-names",
        "list-names",
        "read-case",
        "trace-wearer",
        "enter-line",
        "off-limits",
        "set-pin",
        "unlock-sign-in",
        "issue-token",
        "withdraw-token",
        "make-subscription",
        "change-subscription",
        "end-subscription",
        "rekey-subscription",
        "replay-subscription",
    }
)
"""Requests whose routes are written by hand: they carry names, secrets, files or a form's line (`off-limits` is the
work of one), or show what they ask for."""
