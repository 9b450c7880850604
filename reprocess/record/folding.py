"""How entries become the standing of an item.

The fold always goes in stream order; `occurred_at` orders nothing. A standing is never edited: what is written
is true, and `apply` returns the next one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from reprocess.record import words
from reprocess.record.changing import replace
from reprocess.record.custody_effect import CUSTODY_WORDS, custody_effect, with_swap
from reprocess.record.entry import Entry
from reprocess.record.identity_effect import identity_effect
from reprocess.record.load_effect import judged, load_effect, step_failed
from reprocess.record.place_effect import place_effect
from reprocess.record.standing import Change, Evidence, Hold, OpenDwell, Pass, Standing, Wear
from reprocess.terms import Stage, subject_of


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
    if not isinstance(entry.body, _BESIDE):
        envelope = entry.envelope
        if not standing.since_us or changed.get("stage", standing.stage) != standing.stage:
            changed["since_us"] = entry.at_us
        step = getattr(entry.body, "step", None)
        changed["change"] = Change(entry.number, entry.kind, step, envelope.actor, envelope.station, envelope.moment)
    return replace(standing, **changed)


_BESIDE = (words.ClockAnomaly, words.HeldSighted, words.OverrideUsed, words.StepFlagged, words.FlagSettled)
"""Entries that stand beside an item's work: nobody did anything to the item with them."""

Changed = dict[str, Any]
"""Fields of a standing and what they become."""


def _effect(standing: Standing, entry: Entry) -> Changed:
    """Returns what an entry changes: the work on the item, where it is, of what and in what."""
    effect = _EFFECTS.get(type(entry.body), _life_effect)
    return effect(standing, entry)


def _step_effect(standing: Standing, entry: Entry) -> Changed:
    body = entry.body
    match body:
        case words.StepDone():
            passes = _passed(standing, entry, body.step, body.instrument) if body.recurs else {}
            return {**_satisfy(standing, entry, body.step, body.stage, body.evidence), **passes}
        case words.StepFailed():
            fell = _fall(standing, body.fell, body.stage)
            failed = _no_pass(standing, entry.number, body.step) if body.recurs else {}
            hands = {"hands": _hands(standing, entry, body.step)}
            return {**fell, **failed, **hands, **step_failed(standing, body.step)}
        case words.StepsFell():
            suspect = [step for step in standing.passes if step in body.fell]
            fell = _fall(standing, body.fell, body.stage)
            return {**fell, **_no_pass(standing, entry.number, *suspect), **judged(standing, body.load)}
        case words.CycleMoved():
            return {**_fall(standing, body.fell, body.stage), "workflow": body.workflow, "digest": body.digest}
        case words.HistorySplit():
            others = [step for step, one in standing.passes.items() if one.number in body.numbers]
            return {**_fall(standing, body.fell, body.stage), **_no_pass(standing, entry.number, *others)}
        case words.EntryCorrected():
            wrong = [step for step, one in standing.passes.items() if body.void and one.number == body.number]
            return {**_fall(standing, body.fell, body.stage), **_no_pass(standing, body.number, *wrong)}
        case words.ItemReleased():
            done = {"cycles_done": standing.cycles_done + 1, "ready_until_us": body.ready_until_us}
            return {**_satisfy(standing, entry, body.step, body.stage, "measured"), **done}
        case _:
            return {}


def _dwell_effect(standing: Standing, entry: Entry) -> Changed:
    body = entry.body
    match body:
        case words.DwellStarted():
            touched = {} if body.agent is None else {body.agent: entry.number}
            return {
                "dwell": _open(body, entry),
                "chemicals": {**standing.chemicals, **touched},
                "hands": _hands(standing, entry, body.step),
                "begun": _begun(standing, body.step),
            }
        case words.DwellWetted() if standing.dwell is not None:
            wetted = replace(standing.dwell, wetted=entry.envelope.moment)
            return {"dwell": wetted, "hands": _hands(standing, entry, body.step)}
        case words.DwellBroken():
            return {"dwell": None, "restarts": standing.restarts + 1}
        case words.DwellEnded():
            # Every confirmed charge is one charge cycle more, whoever counts them (T12, B05).
            charged = 1 if standing.dwell is not None and standing.dwell.dwell == "charging" else 0
            done = _satisfy(standing, entry, body.step, body.stage, body.evidence)
            return {**done, "charge_cycles": standing.charge_cycles + charged, **judged(standing, body.load)}
        case _:
            return {}


def _hold_effect(standing: Standing, entry: Entry) -> Changed:
    body = entry.body
    match body:
        case words.HoldPlaced():
            return {"holds": {**standing.holds, body.hold: _held(body, entry)}}
        case words.HoldLifted():
            left = {key: hold for key, hold in standing.holds.items() if key != body.hold}
            new = (body.settles,) if body.settles is not None and body.settles not in standing.settled else ()
            return {"holds": left, "settled": (*standing.settled, *new)}
        case words.HeldSighted():
            return {"holds": {key: _sighted(hold, entry, body) for key, hold in standing.holds.items()}}
        case _:
            return {}


def _wear_effect(standing: Standing, entry: Entry) -> Changed:
    body, wear = entry.body, standing.wear
    match body:
        case words.WearStepDone() if body.phase == "put-on":
            if wear is None or body.begins:
                wear = Wear(entry.number, entry.envelope.actor, began_us=entry.at_us)
            used = (*wear.instruments, body.instrument) if body.instrument is not None else wear.instruments
            on_us = entry.at_us if body.done else None
            return {"wear": replace(wear, put_on=(*wear.put_on, body.step), on_us=on_us, instruments=used)}
        case words.WearStepDone() if wear is not None and wear.worn:
            traces = tuple(dict.fromkeys((*wear.traces, *body.traces)))
            taken_off = (*wear.taken_off, body.step)
            off_us = wear.off_us if wear.off_us is not None else entry.at_us
            return {"wear": replace(wear, taken_off=taken_off, traces=traces, off_us=off_us)}
        case words.WearSignalled() if wear is not None:
            told = (body.signal, entry.number, entry.at_us, body.left_s)
            return {"wear": replace(wear, signals=(*wear.signals, told))}
        case words.PartSwapped():
            swaps = {**wear.swaps, body.slot: entry.at_us} if wear is not None else {}
            heeded = replace(wear, signals=(), swaps=swaps) if wear is not None else None
            members = {**standing.members, body.slot: body.into}
            return {"members": members, "wear": heeded, "custody": with_swap(standing.custody, body)}
        case _:
            return {}


def _unworn(standing: Standing) -> Changed:
    """Returns the end of a putting on that was not finished, where one was."""
    return {"wear": None} if standing.wear is not None and not standing.wear.worn else {}


def _life_effect(standing: Standing, entry: Entry) -> Changed:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    body = entry.body
    match body:
        case words.ItemSentToRepair():
            return {"stage": Stage.IN_REPAIR, "satisfied": {}, "dwell": None, "repaired": entry.number}
        case words.ItemCondemned():
            return {"stage": Stage.CONDEMNED, "satisfied": {}, "dwell": None}
        case words.ItemLost():
            return {"stage": Stage.LOST, "satisfied": {}, "dwell": None}
        case words.ItemOpened():
            return {"opened_us": standing.opened_us or entry.at_us}
        case words.ItemWorked():
            return {
                "charge_cycles": standing.charge_cycles + body.charge_cycles,
                "used_minutes": standing.used_minutes + body.minutes,
            }
        case words.ItemInspectedInStore():
            return {"inspected_us": entry.at_us, "anchor_day": body.anchor_day}
        case words.AssemblyBuilt():
            return {
                "configuration": body.configuration,
                "members": dict(body.members),
                "counts": dict(body.counts),
                "wear": None,
            }
        case words.AssemblyDissolved():
            return {"configuration": None, "members": {}, "counts": {}}
        case words.MemberJoined():
            return {"assembly": body.assembly, "slot": body.slot}
        case words.MemberLeft() if standing.assembly == body.assembly:
            return {"assembly": None, "slot": None}
        case _:
            return {}


def _commissioned(entry: Entry, body: words.ItemCommissioned) -> Changed:
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
        "lot": body.lot,
        "was": body.was,
        "cycles_done": body.cycles_done or 0,
        "repaired": entry.number if body.was is not None else None,
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
        "back": None,
        "dwell": None,
        "chemicals": {},
        "restarts": 0,
        "ready_until_us": None,
        "wear": None,
        "begun": (),
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
        instrument=body.instrument,
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
        cause_id=body.cause_id,
        recall=body.recall,
        evidence=body.evidence,
        notice=body.notice,
    )


def _sighted(hold: Hold, entry: Entry, body: words.HeldSighted) -> Hold:
    """Returns a hold after its item was scanned, where the entry names it."""
    if hold.hold not in body.holds:
        return hold
    first_us = hold.sighted_us if hold.sighted_us is not None else entry.at_us
    place = body.place if body.place is not None else hold.place
    return replace(hold, sighted_us=first_us, sighted_at=entry.envelope.station, place=place)


def _satisfy(standing: Standing, entry: Entry, step: str, stage: str, sort: str) -> Changed:
    opened = standing.dwell
    mine = opened is not None and opened.step == step
    body = entry.body
    evidence = Evidence(
        number=entry.number,
        actor=_doers(entry)[0],
        second=_doers(entry)[1],
        ended=entry.envelope.moment,
        sort=sort,
        occurred_us=entry.occurred_us,
        paper=getattr(body, "paper", None),
        solution=(opened.solution if mine and opened else getattr(body, "solution", None)),
        instrument=(opened.instrument if mine and opened else getattr(body, "instrument", None)),
        over_exposed=bool(getattr(body, "over_exposed", False)),
        load=getattr(body, "load", None),
    )
    return {
        "stage": stage,
        "satisfied": {**standing.satisfied, step: evidence},
        "dwell": None if mine else opened,
        "hands": _hands(standing, entry, step),
        "begun": _begun(standing, step),
    }


def _fall(standing: Standing, fell: tuple[str, ...], stage: str) -> Changed:
    opened = standing.dwell
    return {
        "stage": stage,
        "satisfied": {name: one for name, one in standing.satisfied.items() if name not in fell},
        "dwell": None if opened is not None and opened.step in fell else opened,
        "ready_until_us": standing.ready_until_us if stage == Stage.READY else None,
        **_unworn(standing),
    }


def _begun(standing: Standing, step: str) -> tuple[str, ...]:
    return standing.begun if step in standing.begun else (*standing.begun, step)


def _passed(standing: Standing, entry: Entry, step: str, instrument: str | None) -> Changed:
    passed = Pass(entry.number, entry.at_us, standing.charge_cycles, instrument)
    return {"passes": {**standing.passes, step: passed}}


def _no_pass(standing: Standing, number: int, *steps: str) -> Changed:
    void = Pass(number, None, standing.charge_cycles)
    return {"passes": {**standing.passes, **dict.fromkeys(steps, void)}}


def _doers(entry: Entry) -> tuple[str | None, str | None]:
    """Returns who did it, and with whom: those that a form names, else those who scanned (D06)."""
    done_by = getattr(entry.body, "done_by", None)
    if done_by is not None:
        return done_by, getattr(entry.body, "done_with", None)
    return entry.envelope.actor, entry.envelope.second


def _hands(standing: Standing, entry: Entry, step: str) -> dict[str, tuple[str, ...]]:
    hands = dict(standing.hands)
    for person in _doers(entry):
        if person is not None and step not in hands.get(person, ()):
            hands[person] = (*hands.get(person, ()), step)
    return hands


def _begin_effect(standing: Standing, entry: Entry) -> Changed:
    body = entry.body
    match body:
        case words.ItemCommissioned():
            return _commissioned(entry, body)
        case words.ItemContaminated():
            return _contaminated(standing, body, entry)
        case words.DelayFound():
            return {"delayed": True, "contamination_class": body.contamination_class}
        case words.ItemSplit():
            return _split(standing, body)
        case words.ClockAnomaly():
            return {"anomaly_of": body.since_number}
        case _:
            return {}


Effect = Callable[[Standing, Entry], Changed]
_STEPS = (
    words.StepDone,
    words.StepFailed,
    words.StepsFell,
    words.EntryCorrected,
    words.ItemReleased,
    words.CycleMoved,
    words.HistorySplit,
)
_DWELLS = (words.DwellStarted, words.DwellWetted, words.DwellBroken, words.DwellEnded)
_BEGINS = (words.ItemCommissioned, words.ItemContaminated, words.DelayFound, words.ItemSplit, words.ClockAnomaly)
_EFFECTS: Final[dict[type[words.Body], Effect]] = {
    **dict.fromkeys(_STEPS, _step_effect),
    **dict.fromkeys(_DWELLS, _dwell_effect),
    **dict.fromkeys((words.HoldPlaced, words.HoldLifted, words.HeldSighted), _hold_effect),
    **dict.fromkeys(_BEGINS, _begin_effect),
    **dict.fromkeys((words.WearStepDone, words.WearSignalled, words.PartSwapped), _wear_effect),
    **dict.fromkeys(CUSTODY_WORDS, custody_effect),
    **dict.fromkeys((words.ItemLoaded, words.ItemUnloaded), load_effect),
    **dict.fromkeys((words.ItemPlaced, words.ItemTakenOut), place_effect),
    **dict.fromkeys((words.TagGiven, words.TagWithdrawn, words.CodeTyped), identity_effect),
}
"""What each kind of entry changes, family by family; what is not named here is a matter of the item's life."""
