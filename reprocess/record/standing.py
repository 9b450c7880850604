"""The standing of an item: the fold of its entries (`folding`), which is all that the rules look at."""

from __future__ import annotations

from dataclasses import dataclass, field

from reprocess.record.custody import Custody, Dedication
from reprocess.record.loads import InLoad
from reprocess.record.moment import Moment
from reprocess.terms import Stage


@dataclass(frozen=True, slots=True)
class Evidence:
    """Is what a satisfied step rests on.

    Attributes:
        number: the entry of the item's stream that satisfied the step.
        ended: the clocks when it was satisfied.
        sort: measured, attested or imported.
        occurred_us: when it happened; what a form says, for a late entry.
        paper: the number of that form, or None.
        solution: the bath or container used, if any.
        instrument: the instrument used, if any.
        load: the load that did the step, if one did; nobody saw the step itself then.
    """

    number: int
    actor: str | None
    second: str | None
    ended: Moment
    sort: str
    occurred_us: int = 0
    paper: str | None = None
    solution: str | None = None
    instrument: str | None = None
    over_exposed: bool = False
    load: str | None = None


@dataclass(frozen=True, slots=True)
class Pass:
    """Is the latest result of a recurring step: when it passed, or None since it failed or was corrected."""

    number: int
    at_us: int | None
    charge_cycles: int
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class OpenDwell:
    """Is a dwell whose end is not confirmed yet; `feed` is the entry that began it in the order of the whole record."""

    step: str
    dwell: str
    number: int
    started: Moment
    wetted: Moment
    attempt: int
    least_s: int
    greatest_s: int | None
    film_s: int | None
    unobserved: str
    solution: str | None
    agent: str | None
    temp_c: str | None
    actor: str | None
    feed: int = 0
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class Hold:
    """Is a reason why the item must not be released or issued, with what lifts it.

    Attributes:
        cause_id: what happened, so that it is not held for the same again once people settled it (E25).
        recall: the recall that it belongs to, or None.
        sighted_us: when the item was first scanned under this hold, or None where nobody has located it.
        sighted_at: the station where it was last scanned.
        place: the quarantine place that it was put in, or None.
    """

    hold: str
    sort: str
    rule: str
    cause: str
    owner: str
    placed_by: str | None
    placed_us: int
    number: int
    lift_roles: tuple[str, ...]
    lift_two_people: bool
    lift_requires: str
    cause_id: str | None = None
    recall: str | None = None
    evidence: str | None = None
    notice: str | None = None
    sighted_us: int | None = None
    sighted_at: str | None = None
    place: str | None = None


@dataclass(frozen=True, slots=True)
class Wear:
    """Is one wearing of an assembly, from the first step of putting it on until it is used.

    Attributes:
        put_on: the steps of putting on that were done, in order.
        began_us: when the first of them was done.
        on_us: when the last of them was done; None while it is being put on.
        instruments: what it was looked at with.
        taken_off: the steps of taking off that were done, in the order in which they were.
        off_us: when taking off began.
        traces: what was seen on it, as the file calls it.
        signals: what the wearer told, each with its entry, when and how long it left.
        swaps: when each slot was last changed while it was worn (B06).
    """

    number: int
    wearer: str | None
    began_us: int = 0
    put_on: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    on_us: int | None = None
    taken_off: tuple[str, ...] = ()
    off_us: int | None = None
    traces: tuple[str, ...] = ()
    signals: tuple[tuple[str, int, int, int | None], ...] = ()
    swaps: dict[str, int] = field(default_factory=dict)

    @property
    def worn(self) -> bool:
        """Tells whether somebody wore it, or took it off, since it was last cleaned."""
        return self.on_us is not None or self.off_us is not None


@dataclass(frozen=True, slots=True)
class Change:
    """Is the latest entry of a stream: what, by whom, where, when."""

    number: int
    kind: str
    step: str | None
    actor: str | None
    station: str | None
    moment: Moment


@dataclass(frozen=True, slots=True)
class Standing:
    """Is where an item stands.

    Attributes:
        number: how many entries its stream has.
        cycle: which cycle since commissioning, from 1.
        satisfied: the satisfied steps of this cycle with their evidence.
        hands: who did anything on which steps in this cycle, fallen steps included (S01, S02).
        chemicals: the agents that touched it in this cycle, each with the entry of its latest contact (P15).
        restarts: contact attempts that broke in this cycle (T05).
        settled: the causes for which a hold was lifted, so that nothing holds it for the same again (E25).
        used: whether the item was ever used.
        cycles_done: releases so far (T12).
        begun: the steps that were done or started in this cycle, fallen ones included (T11).
        repaired: the entry with which it last went to repair, or began anew under another id; every recurring step is
            due again after that.
        passes: the latest result of each recurring step, whichever the cycle.
        members: parts of this assembly, slot to item; empty for parts.
        lot: the lot that it came from, or None.
        tag: a tag that means it beside its own id, or None (E22).
        relabel_us: since when its label is waited for because it could not be read, or None (E20).
        was: the id under which it was known before its identity was lost, or None.
        place: where it lies as far as anybody scanned it there; None while it is out, and where nobody did.
        back: the parts that went out with it and that its latest return was about; None once it is worked on.
        custody: who has it while it is out; None while it is in the department.
        dedication: the one place or wearer that it serves, or None (C07, C11).
        load: the load that it is in, or whose record it waits for; None otherwise.
        anomaly_of: the entry since which a clock anomaly was last noted, so that it is noted once.
    """

    item: str
    item_kind: str = ""
    model: str = ""
    site: str = ""
    serial: str | None = None
    workflow: str = ""
    digest: str = ""
    number: int = 0
    stage: str = Stage.USED
    since_us: int = 0
    cycle: int = 0
    contamination_class: str = "routine"
    contaminated_us: int = 0
    use_ended_us: int | None = None
    delayed: bool = False
    satisfied: dict[str, Evidence] = field(default_factory=dict)
    hands: dict[str, tuple[str, ...]] = field(default_factory=dict)
    dwell: OpenDwell | None = None
    chemicals: dict[str, int] = field(default_factory=dict)
    restarts: int = 0
    holds: dict[str, Hold] = field(default_factory=dict)
    settled: tuple[str, ...] = ()
    quantity: int = 1
    used: bool = False
    cycles_done: int = 0
    charge_cycles: int = 0
    passes: dict[str, Pass] = field(default_factory=dict)
    repaired: int | None = None
    begun: tuple[str, ...] = ()
    used_minutes: int = 0
    in_service_us: int = 0
    opened_us: int | None = None
    sealed_expiry_us: int | None = None
    ready_until_us: int | None = None
    assembly: str | None = None
    slot: str | None = None
    configuration: str | None = None
    members: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    wear: Wear | None = None
    inspected_us: int | None = None
    anchor_day: int | None = None
    anomaly_of: int | None = None
    lot: str | None = None
    place: str | None = None
    custody: Custody | None = None
    back: tuple[str, ...] | None = None
    tag: str | None = None
    relabel_us: int | None = None
    was: str | None = None
    dedication: Dedication | None = None
    load: InLoad | None = None
    change: Change | None = None

    @property
    def known(self) -> bool:
        """Tells whether the item was ever commissioned."""
        return self.number > 0

    @property
    def held(self) -> bool:
        """Tells whether at least one hold is open."""
        return bool(self.holds)
