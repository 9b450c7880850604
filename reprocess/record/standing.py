"""The standing of an item: the fold of its entries, which is all that the rules look at.

The fold always goes in stream order; `occurred_at` orders nothing. A standing is never edited: what is written
is true, and `apply` returns the next one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from reprocess.record import entry as words
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.terms import Stage, subject_of


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


@dataclass(frozen=True, slots=True)
class Hold:
    """Is a reason why the item must not be released or issued, with what lifts it."""

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
        used: whether the item was ever used.
        cycles_done: releases so far (T12).
        members: parts of this assembly, slot to item; empty for parts.
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
    quantity: int = 1
    used: bool = False
    cycles_done: int = 0
    charge_cycles: int = 0
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
    inspected_us: int | None = None
    anchor_day: int | None = None
    anomaly_of: int | None = None
    change: Change | None = None

    @property
    def known(self) -> bool:
        """Tells whether the item was ever commissioned."""
        return self.number > 0

    @property
    def held(self) -> bool:
        """Tells whether at least one hold is open."""
        return bool(self.holds)


def fold(item: str, entries: list[Entry]) -> Standing:
    """Returns the standing after all these entries of one item's stream, oldest first.

    An entry that was undone later is left out as if it had not been made; it stays on record.
    """
    undone = {number for entry in entries if isinstance(entry.body, words.EntryUndone) for number in entry.body.numbers}
    standing = Standing(item=item)
    for entry in entries:
        left_out = entry.number in undone
        standing = replace(standing, number=entry.number) if left_out else apply(standing, entry)
    return standing


def must_refold(entry: Entry) -> bool:
    """Tells whether an entry changes what earlier ones meant, so that the stream must be folded anew."""
    return isinstance(entry.body, words.EntryUndone)


def apply(standing: Standing, entry: Entry) -> Standing:
    """Returns the standing after one more entry; `must_refold` entries are only counted here."""
    changed = _effect(standing, entry)
    changed["number"] = entry.number
    if not isinstance(entry.body, words.ClockAnomaly | words.HeldSighted):
        envelope = entry.envelope
        if not standing.since_us or changed.get("stage", standing.stage) != standing.stage:
            changed["since_us"] = entry.at_us
        step = getattr(entry.body, "step", None)
        changed["change"] = Change(entry.number, entry.kind, step, envelope.actor, envelope.station, envelope.moment)
    return replace(standing, **changed)


Changed = dict[str, Any]
"""Fields of a standing and what they become."""


def _effect(standing: Standing, entry: Entry) -> Changed:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    body = entry.body
    match body:
        case words.StepDone():
            return _satisfy(standing, entry, body.step, body.stage, body.evidence)
        case words.DwellStarted():
            touched = {} if body.agent is None else {body.agent: entry.number}
            return {
                "dwell": _open(body, entry),
                "chemicals": {**standing.chemicals, **touched},
                "hands": _hands(standing, entry, body.step),
            }
        case words.DwellWetted() if standing.dwell is not None:
            wetted = replace(standing.dwell, wetted=entry.envelope.moment)
            return {"dwell": wetted, "hands": _hands(standing, entry, body.step)}
        case words.DwellBroken():
            return {"dwell": None, "restarts": standing.restarts + 1}
        case words.DwellEnded():
            return _satisfy(standing, entry, body.step, body.stage, body.evidence)
        case words.StepFailed():
            return {**_fall(standing, body.fell, body.stage), "hands": _hands(standing, entry, body.step)}
        case words.StepsFell() | words.EntryCorrected():
            return _fall(standing, body.fell, body.stage)
        case words.ItemReleased():
            done = {"cycles_done": standing.cycles_done + 1, "ready_until_us": body.ready_until_us}
            return {**_satisfy(standing, entry, body.step, body.stage, "measured"), **done}
        case words.HoldPlaced():
            return {"holds": {**standing.holds, body.hold: _held(body, entry)}}
        case words.HoldLifted():
            return {"holds": {key: hold for key, hold in standing.holds.items() if key != body.hold}}
        case words.ItemCommissioned():
            return _commissioned(body, entry)
        case words.ItemContaminated():
            return _contaminated(standing, body, entry)
        case words.DelayFound():
            return {"delayed": True, "contamination_class": body.contamination_class}
        case words.ItemSentToRepair():
            return {"stage": Stage.IN_REPAIR, "satisfied": {}, "dwell": None}
        case words.ItemCondemned():
            return {"stage": Stage.CONDEMNED, "satisfied": {}, "dwell": None}
        case words.ItemLost():
            return {"stage": Stage.LOST, "satisfied": {}, "dwell": None}
        case words.ItemSplit():
            return _split(standing, body)
        case words.ItemOpened():
            return {"opened_us": standing.opened_us or entry.at_us}
        case words.ItemWorked():
            return {
                "charge_cycles": standing.charge_cycles + body.charge_cycles,
                "used_minutes": standing.used_minutes + body.minutes,
            }
        case words.ItemInspectedInStore():
            return {"inspected_us": entry.at_us, "anchor_day": body.anchor_day}
        case words.ClockAnomaly():
            return {"anomaly_of": body.since_number}
        case words.AssemblyBuilt():
            return {
                "configuration": body.configuration,
                "members": dict(body.members),
                "counts": dict(body.counts),
            }
        case words.AssemblyDissolved():
            return {"configuration": None, "members": {}, "counts": {}}
        case words.MemberJoined():
            return {"assembly": body.assembly, "slot": body.slot}
        case words.MemberLeft() if standing.assembly == body.assembly:
            return {"assembly": None, "slot": None}
        case _:
            return {}


def _commissioned(body: words.ItemCommissioned, entry: Entry) -> Changed:
    return {
        "item": subject_of(entry.stream),
        "item_kind": body.item_kind,
        "model": body.model,
        "site": body.site,
        "serial": body.serial,
        "workflow": body.workflow,
        "digest": body.digest,
        "quantity": body.quantity,
        "in_service_us": body.in_service_us,
        "opened_us": body.opened_us,
        "sealed_expiry_us": body.sealed_expiry_us,
        "stage": Stage.USED,
        "cycle": 1,
        "contaminated_us": entry.at_us,
    }


def _contaminated(standing: Standing, body: words.ItemContaminated, entry: Entry) -> Changed:
    return {
        "workflow": body.workflow,
        "digest": body.digest,
        "stage": Stage.USED,
        "cycle": body.cycle,
        "contamination_class": body.contamination_class,
        "contaminated_us": entry.at_us,
        "use_ended_us": body.use_ended_us,
        "delayed": False,
        "satisfied": {},
        "hands": {},
        "dwell": None,
        "chemicals": {},
        "restarts": 0,
        "ready_until_us": None,
        "used": standing.used or body.cause == "used",
    }


def _split(standing: Standing, body: words.ItemSplit) -> Changed:
    """Returns the batch after parts left it or joined it: as old and as worn as the worst of its parts."""
    return {
        "quantity": standing.quantity - body.quantity,
        "in_service_us": min(standing.in_service_us, body.in_service_us or standing.in_service_us),
        "opened_us": _earliest(standing.opened_us, body.opened_us),
        "sealed_expiry_us": _earliest(standing.sealed_expiry_us, body.sealed_expiry_us),
        "cycles_done": max(standing.cycles_done, body.cycles_done or 0),
    }


def _earliest(one_us: int | None, two_us: int | None) -> int | None:
    return min((at_us for at_us in (one_us, two_us) if at_us is not None), default=None)


def _open(body: words.DwellStarted, entry: Entry) -> OpenDwell:
    moment = entry.envelope.moment
    return OpenDwell(
        step=body.step,
        dwell=body.dwell,
        number=entry.number,
        started=moment,
        wetted=moment,
        attempt=body.attempt,
        least_s=body.least_s,
        greatest_s=body.greatest_s,
        film_s=body.film_s,
        unobserved=body.unobserved,
        solution=body.solution,
        agent=body.agent,
        temp_c=body.temp_c,
        actor=entry.envelope.actor,
        feed=entry.feed,
    )


def _held(body: words.HoldPlaced, entry: Entry) -> Hold:
    return Hold(
        hold=body.hold,
        sort=body.sort,
        rule=body.rule,
        cause=body.cause,
        owner=body.owner,
        placed_by=entry.envelope.actor,
        placed_us=entry.at_us,
        number=entry.number,
        lift_roles=body.lift_roles,
        lift_two_people=body.lift_two_people,
        lift_requires=body.lift_requires,
    )


def _satisfy(standing: Standing, entry: Entry, step: str, stage: str, sort: str) -> Changed:
    opened = standing.dwell
    mine = opened is not None and opened.step == step
    body = entry.body
    evidence = Evidence(
        number=entry.number,
        actor=entry.envelope.actor,
        second=entry.envelope.second,
        ended=entry.envelope.moment,
        sort=sort,
        occurred_us=entry.occurred_us,
        paper=getattr(body, "paper", None),
        solution=(opened.solution if mine and opened else getattr(body, "solution", None)),
        instrument=getattr(body, "instrument", None),
        over_exposed=bool(getattr(body, "over_exposed", False)),
    )
    return {
        "stage": stage,
        "satisfied": {**standing.satisfied, step: evidence},
        "dwell": None if mine else opened,
        "hands": _hands(standing, entry, step),
    }


def _fall(standing: Standing, fell: tuple[str, ...], stage: str) -> Changed:
    opened = standing.dwell
    return {
        "stage": stage,
        "satisfied": {name: one for name, one in standing.satisfied.items() if name not in fell},
        "dwell": None if opened is not None and opened.step in fell else opened,
        "ready_until_us": standing.ready_until_us if stage == Stage.READY else None,
    }


def _hands(standing: Standing, entry: Entry, step: str) -> dict[str, tuple[str, ...]]:
    hands = dict(standing.hands)
    for person in (entry.envelope.actor, entry.envelope.second):
        if person is not None and step not in hands.get(person, ()):
            hands[person] = (*hands.get(person, ()), step)
    return hands
