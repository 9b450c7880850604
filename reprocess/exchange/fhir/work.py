"""One item's stream as work: a Task for each step, and a DeviceDispense for each issue to somebody.

A step that a clock or a load does is one Task from its beginning to its end. Each resource knows the entry that last
changed it, so that whoever asks for what changed since sees it again.

Sources: HL7 FHIR R5 (5.0.0), pages "task", "devicedispense", "valueset-task-status", "valueset-task-intent",
"valueset-devicedispense-status".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from reprocess.exchange.fhir.devices import instrument_ref
from reprocess.exchange.fhir.observations import observation_id, readings_of, taken_back
from reprocess.exchange.fhir.terms import (
    Json,
    Made,
    Seeing,
    concept,
    extension,
    meta,
    named,
    of,
    staff,
    uuid,
    wearer,
)
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body
from reprocess.terms import as_text, subject_of

COMPLETED, FAILED, RUNNING, CANCELLED, MISTAKEN = (
    "completed", "failed", "in-progress", "cancelled", "entered-in-error",
)  # fmt: skip


@dataclass(slots=True)
class Work:
    """Is one step as it was done: the entry that began it, the one that last changed it, and how it stands."""

    began: Entry
    step: str
    status: str
    changed: Entry
    ended: Entry | None = None
    load: str | None = None


def steps_of(entries: list[Entry]) -> list[Work]:
    """Returns the steps of one item's stream, oldest first."""
    void = taken_back(entries)
    found: list[Work] = []
    for entry in entries:
        if entry.number not in void:
            _take(found, entry)
        elif (begun := _begun(entry)) is not None:
            found.append(Work(entry, begun, MISTAKEN, void[entry.number]))
    return sorted(found, key=lambda one: one.began.feed)


def _take(found: list[Work], entry: Entry) -> None:
    body = entry.body
    match body:
        case words.DwellStarted():
            found.append(Work(entry, body.step, RUNNING, entry))
        case words.ItemLoaded():
            found.append(Work(entry, body.step, RUNNING, entry, load=body.load))
        case words.DwellEnded():
            _end(found, entry, COMPLETED, step=body.step, load=body.load)
        case words.DwellBroken():
            _end(found, entry, FAILED, step=body.step, load=None)
        case words.StepsFell() | words.ItemUnloaded():
            _load_left(found, entry)
        case words.ItemContaminated() | words.ItemCondemned() | words.ItemLost() | words.ItemSentToRepair():
            for one in found:
                if one.status == RUNNING:
                    one.status, one.ended, one.changed = CANCELLED, entry, entry
        case _:
            step = _begun(entry)
            if step is not None:
                found.append(Work(entry, step, _outcome(body), entry, ended=entry))


def _load_left(found: list[Work], entry: Entry) -> None:
    """Ends the step that a load was to do: failed with it, or taken out of it before it was done."""
    body = entry.body
    if isinstance(body, words.StepsFell) and body.load is not None:
        _end(found, entry, FAILED, step=None, load=body.load)
    elif isinstance(body, words.ItemUnloaded) and body.cause in {"removed", "not-present"}:
        _end(found, entry, CANCELLED, step=None, load=body.load)


def _end(found: list[Work], entry: Entry, status: str, *, step: str | None, load: str | None) -> None:
    """Ends the step that runs; one whose beginning nobody scanned, such as from a form, begins with its end."""
    runs = (one for one in reversed(found) if one.status == RUNNING and one.load == load)
    running = next((one for one in runs if step is None or one.step == step), None)
    if running is not None:
        running.status, running.ended, running.changed = status, entry, entry
    elif step is not None:
        found.append(Work(entry, step, status, entry, ended=entry))


def _begun(entry: Entry) -> str | None:
    """Returns the step that an entry tells of, or None where it tells of none."""
    match entry.body:
        case words.StepDone() | words.StepFailed() | words.ItemReleased() | words.WearStepDone() as body:
            return body.step
        case words.DwellStarted() | words.ItemLoaded() as body:
            return body.step
        case _:
            return None


def _outcome(body: Body) -> str:
    """Returns how a step ended that was told at once; what is taken off is done, well or not."""
    if isinstance(body, words.WearStepDone) and body.phase == "put-on":
        return COMPLETED if body.done else FAILED
    return FAILED if isinstance(body, words.StepFailed) else COMPLETED


def tasks(entries: list[Entry], seeing: Seeing) -> list[Made]:
    """Returns a Task for each step of one item's stream, oldest first."""
    return [Made(one.changed.feed, _task(one, seeing)) for one in steps_of(entries)]


def _task(work: Work, seeing: Seeing) -> Json:
    began, last = work.began, work.ended or work.began
    found: Json = {
        "resourceType": "Task",
        "id": str(began.feed),
        "meta": meta(work.changed.number, work.changed.at_us),
        "identifier": [uuid(began.id)],
        "status": work.status,
        "intent": "order",
        "code": concept("step", work.step),
        "focus": of("Device", subject_of(began.stream)),
        "authoredOn": as_text(began.at_us),
        "lastModified": as_text(max(began.at_us, work.changed.at_us)),
        "executionPeriod": _period(work),
        "performer": performers(last, seeing),
        "input": [*_inputs(began.body), *(_inputs(last.body) if last is not began else ())],
        "output": [one for entry in _told(work) for one in _outputs(entry)],
    }
    if began.envelope.station is not None:
        found["location"] = named("Location", "station", began.envelope.station)
    stage, evidence = getattr(last.body, "stage", None), getattr(last.body, "evidence", None)
    if isinstance(stage, str):
        found["businessStatus"] = concept("stage", stage)
    if isinstance(evidence, str):
        found["extension"] = [extension("evidence", valueCode=evidence)]
    return {name: value for name, value in found.items() if value != []}


def _told(work: Work) -> list[Entry]:
    return [work.began] if work.ended in (None, work.began) else [work.began, *filter(None, [work.ended])]


def _period(work: Work) -> Json:
    """Returns from when to when; when a step without a clock began, nobody scanned."""
    clocked = isinstance(work.began.body, words.DwellStarted | words.ItemLoaded)
    start = {"start": as_text(work.began.occurred_us)} if clocked else {}
    if work.ended is None:
        return start
    ended_us = max(work.ended.occurred_us, work.began.occurred_us) if clocked else work.ended.occurred_us
    return start | {"end": as_text(ended_us)}


def performers(entry: Entry, seeing: Seeing) -> list[Json]:
    """Returns who did it and who stood by; whoever puts on, wears and takes off is masked as a wearer is."""
    body = entry.body
    first = getattr(body, "done_by", None) or entry.envelope.actor
    second = getattr(body, "done_with", None) or entry.envelope.second
    if isinstance(body, WORN):
        return [{"actor": wearer(seeing, first)}]
    told = [] if first is None else [{"actor": staff(first)}]
    function = concept("hand", "second-person")
    return told if second is None else [*told, {"function": function, "actor": staff(second)}]


WORN: Final = (words.WearStepDone, words.WearSignalled, words.PartSwapped, words.WornAgain)
"""What a wearer does; whoever scanned it may be the wearer."""


def _inputs(body: Body) -> list[Json]:
    """Returns what a step was done with: solution, lot, load, water, agent and instrument."""
    told = {name: getattr(body, name, None) for name in ("solution", "lot", "load", "water", "agent", "paper")}
    found = [
        {"type": concept("input", name), "valueIdentifier": {"system": f"urn:reprocess:{name}", "value": value}}
        for name, value in told.items()
        if isinstance(value, str)
    ]
    used = getattr(body, "instrument", None)
    if isinstance(used, str):
        found.append({"type": concept("input", "instrument"), "valueReference": instrument_ref(used)})
    return found


def _outputs(entry: Entry) -> list[Json]:
    body = entry.body
    checks: dict[str, bool] = getattr(body, "checks", None) or {}
    counts: dict[str, int] = getattr(body, "counts", None) or {}
    defects: tuple[str, ...] = getattr(body, "defects", ())
    found: list[Json] = [_output("check", name, valueBoolean=good) for name, good in sorted(checks.items())]
    found += [_output("count", name, valueInteger=count) for name, count in sorted(counts.items())]
    found += [_output("defect", one, valueCodeableConcept=concept("defect", one)) for one in defects]
    found += [
        _output("reading", one.key, valueReference=of("Observation", observation_id(entry, place)))
        for place, one in enumerate(readings_of(entry.body))
    ]
    return found


def _output(system: str, code: str, **value: Any) -> Json:
    return {"type": concept(system, code), **value}


def dispenses(entries: list[Entry], seeing: Seeing) -> list[Made]:
    """Returns a DeviceDispense for each issue of one item to somebody, oldest first."""
    void = taken_back(entries)
    issues = [entry for entry in entries if isinstance(entry.body, words.ItemIssued)]
    found = []
    for place, entry in enumerate(issues):
        until = issues[place + 1].number if place + 1 < len(issues) else entries[-1].number + 1
        after = [one for one in entries if entry.number < one.number < until and one.number not in void]
        found.append(_dispense(entry, after, void.get(entry.number), seeing))
    return found


def _dispense(entry: Entry, after: list[Entry], void: Entry | None, seeing: Seeing) -> Made:
    body = entry.body
    if not isinstance(body, words.ItemIssued):
        raise TypeError(entry.kind)
    named_ = [one for one in after if isinstance(one.body, words.WearerIdentified) and one.body.number == entry.number]
    back = next((one for one in after if isinstance(one.body, words.ItemReturned | words.ItemContaminated)), None)
    last = max([entry, *named_, *filter(None, [back, void])], key=lambda one: one.feed)
    who = body.wearer
    for one in named_:
        who = one.body.wearer if isinstance(one.body, words.WearerIdentified) else who
    found: Json = {
        "resourceType": "DeviceDispense",
        "id": str(entry.feed),
        "meta": meta(last.number, last.at_us),
        "identifier": [uuid(entry.id)],
        "status": MISTAKEN if void is not None else COMPLETED,
        "category": [concept("purpose", body.purpose)],
        "device": {"reference": of("Device", subject_of(entry.stream))},
        "subject": wearer(seeing, who),
        "receiver": wearer(seeing, who),
        "performer": [{"actor": one["actor"]} for one in performers(entry, seeing)],
        "destination": named("Location", "place", body.place),
        "whenHandedOver": as_text(entry.occurred_us),
    }
    if back is not None:
        found["extension"] = [extension("returned", valueDateTime=as_text(back.occurred_us))]
    if entry.envelope.station is not None:
        found["location"] = named("Location", "station", entry.envelope.station)
    return Made(last.feed, {name: value for name, value in found.items() if value != []})
