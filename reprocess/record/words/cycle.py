"""What happens to an item in its cycle."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Answers, Body, Counts, EvidenceClass, Numbers, Readings, Texts


class ItemCommissioned(Body):
    """Says that an item (or a counted batch) is known from now on; it starts as used (P06).

    `was` is the id under which it was known before its identity was lost; its cycles then count on (T12).
    """

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
    lot: str | None = None
    was: str | None = None
    cycles_done: int | None = None


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

    `done_by` and `done_with` did it where somebody else wrote it down from a form (D06).
    `recurs` says that the pass counts across cycles until it is due again; `water` is the place that the water of a
    rinse came from.
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
    water: str | None = None
    done_by: str | None = None
    done_with: str | None = None


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
    load: str | None = None


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
    done_by: str | None = None
    done_with: str | None = None


class DwellWetted(Body):
    """Says that the surface was wetted again before the film dried (T03)."""

    kind: ClassVar[str] = "dwell-wetted"
    step: str
    wet_s: int


class DwellBroken(Body):
    """Says that a dwell was broken and is void; parts of it are never added up (T04).

    `cause` is one of dried, removed, rinsed, moved, opened, gap, clock, temperature, solution, contaminated, held,
    changed.
    """

    kind: ClassVar[str] = "dwell-broken"
    step: str
    cause: str
    rule: str
    wet_s: int
    least_s: int


class DwellEnded(Body):
    """Says that a dwell was met and confirmed by a scan, or by the record of a load that passed; its step is satisfied.

    `load` and `instrument` (its logger) are named where a load did the step; the times are then those of the record.
    """

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
    load: str | None = None
    instrument: str | None = None
    done_by: str | None = None
    done_with: str | None = None


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


class EntryUndone(Body):
    """Says that the entry of that number of this stream was a mis-scan; both stay on record (E14)."""

    kind: ClassVar[str] = "entry-undone"
    number: int
    undone_kind: str
    numbers: Numbers


class EntryCorrected(Body):
    """Says what the entry of that number should have said; the old words stay (D01).

    A correction never satisfies a step; it may make steps fall. `void` says that a recurring step did not pass after
    all, `mistaken` that the entry was about another item (E14).
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
    mistaken: Literal[True] | None = None
