"""The facts and advances that can be on record, as frozen bodies; the words here are stored and are for ever.

A body says what happened; the envelope around it (`entry.Entry`) says when, by whom, where and under which key.
Instants are microseconds since the epoch, decimals are text with the unit in the field's name, lists are sorted
by the writer. A change of a body's meaning is a new version of its kind beside the old one, never an edit.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, Strict

Texts = Annotated[tuple[str, ...], Strict(strict=False)]
Numbers = Annotated[tuple[int, ...], Strict(strict=False)]
EvidenceClass = Literal["measured", "attested", "imported"]
Answers = dict[str, bool]
Readings = dict[str, str]
Counts = dict[str, int]


class Body(BaseModel):
    """Is the base of every body: frozen, strict, no unknown fields."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")
    kind: ClassVar[str]
    version: ClassVar[int] = 1


# The department: sites, stations, people, files ------------------------------------------------------------


class SiteOpened(Body):
    """Says that a site works with this record, in which time zone and under which site policy."""

    kind: ClassVar[str] = "site-opened"
    title: str
    zone: str
    contact_floor_s: int | None = None
    self_inspection: bool = False
    demo: bool = False


class StationOpened(Body):
    """Says that a station exists and on which side of the bench it stands."""

    kind: ClassVar[str] = "station-opened"
    title: str
    site: str
    side: Literal["dirty", "clean", "any"]


class PersonRegistered(Body):
    """Says that a person works here; wearers are never registered under their name."""

    kind: ClassVar[str] = "person-registered"
    name: str
    sites: Texts
    roles: Texts


class PersonLeft(Body):
    """Says that a person no longer works here."""

    kind: ClassVar[str] = "person-left"
    reason: str


class BadgeGiven(Body):
    """Says that a badge now means this person."""

    kind: ClassVar[str] = "badge-given"
    badge: str


class BadgeWithdrawn(Body):
    """Says that a badge no longer means anybody."""

    kind: ClassVar[str] = "badge-withdrawn"
    badge: str
    reason: str


class CompetencyGranted(Body):
    """Says that a person was found competent for a step, on which kinds of item (all when empty), until when."""

    kind: ClassVar[str] = "competency-granted"
    competency: str
    item_kinds: Texts = ()
    from_us: int
    until_us: int
    assessor: str


class CompetencyWithdrawn(Body):
    """Says that a competency ended early."""

    kind: ClassVar[str] = "competency-withdrawn"
    competency: str
    reason: str


class WorkflowPublished(Body):
    """Keeps the whole text of a workflow, agent, configuration or profile file that somebody proposes."""

    kind: ClassVar[str] = "workflow-published"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    text: str


class WorkflowApproved(Body):
    """Says that a second person approved a published text; it is in force from now on."""

    kind: ClassVar[str] = "workflow-approved"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str


# Items: their cycle ------------------------------------------------------------------------------------------


class ItemCommissioned(Body):
    """Says that an item (or a counted batch) is known from now on; it starts as used (P06)."""

    kind: ClassVar[str] = "item-commissioned"
    item_kind: str
    model: str
    site: str
    workflow: str
    digest: str
    serial: str | None = None
    quantity: int = 1
    in_service_us: int
    opened_us: int | None = None
    sealed_expiry_us: int | None = None


class ItemContaminated(Body):
    """Says that everything satisfied so far is void and a new cycle begins under the workflow named (P02).

    `cause` is one of used, dropped, opened, mixed, touched, soaked, returned-from-repair, found, other.
    """

    kind: ClassVar[str] = "item-contaminated"
    cause: str
    contamination_class: str
    cycle: int
    workflow: str
    digest: str
    use_ended_us: int | None = None
    note: str | None = None


class DelayFound(Body):
    """Says that cleaning began late after use, so that the extended path applies (T11)."""

    kind: ClassVar[str] = "delay-found"
    delay_s: int
    contamination_class: str


class StepDone(Body):
    """Says that a step was done and satisfied, with the evidence and the limits it was judged by.

    `recurs` says that the pass counts across cycles until it is due again.
    """

    kind: ClassVar[str] = "step-done"
    step: str
    stage: str
    evidence: EvidenceClass
    checks: Answers = {}
    readings: Readings = {}
    counts: Counts = {}
    limits: dict[str, str] = {}
    instrument: str | None = None
    solution: str | None = None
    lot: str | None = None
    warned: Texts = ()
    reason: str | None = None
    paper: str | None = None
    recurs: Literal[True] | None = None


class StepFailed(Body):
    """Says that a step was done and did not pass; it and the steps named in `fell` are no longer satisfied.

    `recurs` says that it is one whose pass counts across cycles, so that it is due now.
    """

    kind: ClassVar[str] = "step-failed"
    step: str
    stage: str
    defects: Texts
    fell: Texts
    route: str
    checks: Answers = {}
    readings: Readings = {}
    counts: Counts = {}
    limits: dict[str, str] = {}
    instrument: str | None = None
    recurs: Literal[True] | None = None


class StepsFell(Body):
    """Says that steps are no longer satisfied because what they rested on no longer holds."""

    kind: ClassVar[str] = "steps-fell"
    rule: str
    stage: str
    fell: Texts
    because: str


class DwellStarted(Body):
    """Says that a dwell began, and under which least, greatest and film times it will be judged."""

    kind: ClassVar[str] = "dwell-started"
    step: str
    cycle: int
    dwell: str
    attempt: int
    least_s: int
    greatest_s: int | None = None
    film_s: int | None = None
    unobserved: Literal["restart", "two-people"] = "restart"
    agent: str | None = None
    claim: str | None = None
    method: str | None = None
    solution: str | None = None
    lot: str | None = None
    temp_c: str | None = None
    source: str | None = None
    instrument: str | None = None


class DwellWetted(Body):
    """Says that the surface was wetted again before the film dried (T03)."""

    kind: ClassVar[str] = "dwell-wetted"
    step: str
    wet_s: int


class DwellBroken(Body):
    """Says that a dwell was broken and is void; parts of it are never added up (T04).

    `cause` is one of dried, removed, rinsed, moved, opened, gap, clock, temperature, solution, contaminated, held.
    """

    kind: ClassVar[str] = "dwell-broken"
    step: str
    cause: str
    rule: str
    wet_s: int
    least_s: int


class DwellEnded(Body):
    """Says that a dwell was met and confirmed by a scan, so that its step is satisfied."""

    kind: ClassVar[str] = "dwell-ended"
    step: str
    stage: str
    evidence: EvidenceClass
    proven_s: int
    least_s: int
    greatest_seen_s: int
    over_exposed: bool = False
    temp_c: str | None = None
    dose_a0_s: str | None = None
    readings: Readings = {}
    checks: Answers = {}
    limits: dict[str, str] = {}
    warned: Texts = ()
    paper: str | None = None


class ClockAnomaly(Body):
    """Says that the clocks disagreed between an earlier entry of this stream and now."""

    kind: ClassVar[str] = "clock-anomaly"
    since_number: int
    wall_ms: int
    running_ms: int


class ItemReleased(Body):
    """Says that the item is ready: every mandated step is satisfied by the entries named, until when it keeps."""

    kind: ClassVar[str] = "item-released"
    step: str
    stage: str
    digest: str
    cycle: int
    evidence: dict[str, int]
    ready_until_us: int | None = None
    checks: Answers = {}
    warned: Texts = ()


class ItemSentToRepair(Body):
    """Says that the item left the cycle for repair."""

    kind: ClassVar[str] = "item-sent-to-repair"
    fault: str


class ItemCondemned(Body):
    """Says that the item is out of service for ever."""

    kind: ClassVar[str] = "item-condemned"
    reason: str
    defects: Texts = ()


class ItemLost(Body):
    """Says that the item cannot be found."""

    kind: ClassVar[str] = "item-lost"
    note: str


class ItemSplit(Body):
    """Says that part of a counted batch went into another batch, or came from it, as a negative quantity.

    What comes brings its age and its wear: the batch it joins is as old as the oldest of its parts (T12).
    """

    kind: ClassVar[str] = "item-split"
    other: str
    quantity: int
    in_service_us: int | None = None
    opened_us: int | None = None
    sealed_expiry_us: int | None = None
    cycles_done: int | None = None


class ItemOpened(Body):
    """Says that a sealed item was opened, so that its opened-on limit runs."""

    kind: ClassVar[str] = "item-opened"
    note: str | None = None


class ItemWorked(Body):
    """Adds to the counters of an item: charge cycles and hours of use."""

    kind: ClassVar[str] = "item-worked"
    charge_cycles: int = 0
    minutes: int = 0


class WearStepDone(Body):
    """Says that a step of putting an assembly on was done well, or that a step of taking it off was done.

    `begins` says that putting on began anew with this step; `strayed` that taking off did not keep its order, or that
    nobody watched where somebody should.
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


class ItemInspectedInStore(Body):
    """Says that an item in store was inspected again; the next date keeps the anchored day (Q03)."""

    kind: ClassVar[str] = "item-inspected-in-store"
    findings: str
    action: str
    passed: bool
    anchor_day: int


# Holds, undoing, correcting ------------------------------------------------------------------------------------


class HoldPlaced(Body):
    """Says that the item must not be released or issued until the lift conditions are met (H02)."""

    kind: ClassVar[str] = "hold-placed"
    hold: str
    sort: str
    rule: str
    cause: str
    owner: str
    lift_roles: Texts
    lift_two_people: bool
    lift_requires: str
    defects: Texts = ()


class HoldLifted(Body):
    """Says that a hold ended, on what evidence and with what disposition (H10)."""

    kind: ClassVar[str] = "hold-lifted"
    hold: str
    disposition: str


class HeldSighted(Body):
    """Says that a held item was scanned at a station (H04)."""

    kind: ClassVar[str] = "held-sighted"
    holds: Texts


class EntryUndone(Body):
    """Says that the entry of that number of this stream was a mis-scan; both stay on record (E14)."""

    kind: ClassVar[str] = "entry-undone"
    number: int
    undone_kind: str
    numbers: Numbers


class EntryCorrected(Body):
    """Says what the entry of that number should have said; the old words stay (D01).

    A correction never satisfies a step; it may make steps fall. `void` says that a recurring step did not pass after
    all.
    """

    kind: ClassVar[str] = "entry-corrected"
    number: int
    reason: str
    readings: Readings = {}
    checks: Answers = {}
    counts: Counts = {}
    note: str | None = None
    stage: str
    fell: Texts = ()
    void: Literal[True] | None = None


# Assemblies -----------------------------------------------------------------------------------------------------


class AssemblyBuilt(Body):
    """Says which parts now make up this assembly, under which approved configuration."""

    kind: ClassVar[str] = "assembly-built"
    configuration: str
    digest: str
    members: dict[str, str]
    counts: Counts


class AssemblyDissolved(Body):
    """Says that the parts of this assembly no longer belong together."""

    kind: ClassVar[str] = "assembly-dissolved"
    cause: str
    members: dict[str, str]


class MemberJoined(Body):
    """Says that this item is now part of an assembly."""

    kind: ClassVar[str] = "member-joined"
    assembly: str
    slot: str


class MemberLeft(Body):
    """Says that this item no longer is part of an assembly."""

    kind: ClassVar[str] = "member-left"
    assembly: str
    cause: str


# Solutions and instruments ----------------------------------------------------------------------------------------


class SolutionMade(Body):
    """Says that a bath was made up or a container opened, from which lot and until when it may be used (L01, L02)."""

    kind: ClassVar[str] = "solution-made"
    agent: str
    digest: str
    form: Literal["bath", "container"]
    site: str
    lot: str
    lot_expiry_us: int
    expires_us: int
    stock_parts: str | None = None
    water_parts: str | None = None
    reading_of_ratio: Literal["1 in n", "1 plus n"] | None = None
    strength_ppm: str | None = None
    water_l: str | None = None
    temp_c: str | None = None


class SolutionTested(Body):
    """Keeps the result of a strip test; an invalid test neither passes nor fails the bath (M05, L08)."""

    kind: ClassVar[str] = "solution-tested"
    valid: bool
    passed: bool
    void_because: str | None = None
    reading: str | None = None
    limit: str | None = None
    unit: str | None = None
    strip_lot: str
    strip_expiry_us: int
    control_run: bool
    read_after_s: int | None = None


class SolutionTouched(Body):
    """Says that an item's contact began in this solution, so that no test can slip past it."""

    kind: ClassVar[str] = "solution-touched"
    item: str
    cycle: int
    step: str


class SolutionToppedUp(Body):
    """Says that a lot was added; the expiry does not move (L04)."""

    kind: ClassVar[str] = "solution-topped-up"
    lot: str
    lot_expiry_us: int
    volume_l: str


class SolutionEnded(Body):
    """Says that a bath was dumped or spilled, or a container is empty, reported dry or closed (L06, L09)."""

    kind: ClassVar[str] = "solution-ended"
    cause: Literal["dumped", "spilled", "empty", "dry", "expired", "failed"]


class InstrumentRegistered(Body):
    """Says that a measuring instrument is known."""

    kind: ClassVar[str] = "instrument-registered"
    sort: str
    site: str
    serial: str | None = None


class InstrumentVerified(Body):
    """Says that an instrument was found good and until when that counts (M02, M09)."""

    kind: ClassVar[str] = "instrument-verified"
    until_us: int
    reference: str


class InstrumentFaulty(Body):
    """Says that an instrument was found faulty; nothing measured with it counts from now on."""

    kind: ClassVar[str] = "instrument-faulty"
    finding: str


# Stations and sites: what was refused, what was not known, what rang --------------------------------------------


class AdvanceRefused(Body):
    """Keeps a refused attempt in the station's stream: what was asked and under which rules it was refused.

    The sentences that were shown stand in the entry's answer.
    """

    kind: ClassVar[str] = "advance-refused"
    subject: str
    asked: str
    step: str | None = None
    verdict: Literal["refused", "held"]
    rules: Texts


class UnknownScanned(Body):
    """Keeps a scan that named nothing on record, shortened to printable text."""

    kind: ClassVar[str] = "unknown-scanned"
    shown: str
    because: str


class FactNoted(Body):
    """Keeps a fact that moves nothing: about an id that is not on record, or about a condemned item."""

    kind: ClassVar[str] = "fact-noted"
    subject: str
    asked: str
    words: dict[str, str] = {}


class ReminderRang(Body):
    """Says that a reminder was given, once, and how late."""

    kind: ClassVar[str] = "reminder-rang"
    key: str
    rule: str
    subject: str
    due_us: int
    late_s: int = Field(ge=0)


class ReminderSeen(Body):
    """Says that somebody acknowledged a reminder."""

    kind: ClassVar[str] = "reminder-seen"
    key: str


class ReminderEscalated(Body):
    """Says that nobody acknowledged a reminder in time, and who is told next."""

    kind: ClassVar[str] = "reminder-escalated"
    key: str
    rule: str
    subject: str
    to_role: str
    due_us: int


BODIES: dict[tuple[str, int], type[Body]] = {(one.kind, one.version): one for one in Body.__subclasses__()}
"""Every kind and version that was ever written."""
