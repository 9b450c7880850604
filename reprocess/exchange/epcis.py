"""The record as GS1 EPCIS 2.0 events in JSON-LD: what happened to which item, when, where and as what.

One entry is one event, whose id is the entry's. An entry that was taken back or corrected is told again with an
`errorDeclaration`, as the standard asks; the entry that corrects it is an event of its own. Wearers are in no event.

Sources: GS1 EPCIS 2.0, sections 7.4 (events), 9.5 and its JSON schema (https://github.com/gs1/EPCIS); the codes of
steps, dispositions and measurements are of the Core Business Vocabulary (CBV) 2.0, those of units of UN/CEFACT
Recommendation 20 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final
from urllib.parse import quote

from reprocess.exchange.fhir.observations import Read, corrections_of, readings_of
from reprocess.exchange.fhir.terms import GIAI, as_json, is_giai, number_of
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body
from reprocess.terms import StreamKind, as_text, stream, subject_of

Json = dict[str, Any]
Stream = Callable[[str], list[Entry]]
"""Reads the entries of a stream, oldest first."""

CONTEXT: Final = ["https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld", {"reprocess": "urn:reprocess:"}]
SCHEMA_VERSION: Final = "2.0"
INSPECTIONS: Final = ("inspect", "look-over", "check", "test")
"""How the steps begin or end, by the word, at which somebody looks or measures; others have no code of their own."""


def document(events: Iterable[Json], at_us: int) -> Iterator[bytes]:
    """Yields an EPCIS document bit by bit, so that the whole record never lies in memory."""
    head = {
        "@context": CONTEXT,
        "type": "EPCISDocument",
        "schemaVersion": SCHEMA_VERSION,
        "creationDate": as_text(at_us),
    }
    yield as_json(head)[:-1] + b',"epcisBody":{"eventList":['
    for place, event in enumerate(events):
        yield (b",\n" if place else b"\n") + as_json(event)
    yield b"\n]}}\n"


def events(entries: Iterable[Entry], of_stream: Stream) -> Iterator[Json]:
    """Yields the events of entries in their order; many entries, such as those about people, are no event.

    Args:
        entries: part of the record or all of it.
        of_stream: reads a whole stream, for what an entry takes back or ends.
    """
    for entry in entries:
        yield from events_of(entry, of_stream)


def events_of(entry: Entry, of_stream: Stream) -> Iterator[Json]:
    """Yields the events that one entry comes to."""
    body = entry.body
    match body:
        case words.EntryUndone() | words.HistorySplit():
            yield from _mistaken(entry, body.numbers, of_stream)
        case words.EntryCorrected() if body.mistaken:
            yield from _mistaken(entry, (body.number,), of_stream)
        case words.EntryCorrected():
            yield from _corrected(entry, body, of_stream)
        case _:
            found = _event(entry, of_stream)
            if found is not None:
                yield found


def _mistaken(entry: Entry, numbers: tuple[int, ...], of_stream: Stream) -> Iterator[Json]:
    """Yields what was told by mistake again, declared not to have happened."""
    declared = {"declarationTime": as_text(entry.at_us), "reason": "did_not_occur"}
    for one in of_stream(entry.stream):
        told = _event(one, of_stream) if one.number in numbers else None
        if told is not None:
            yield told | {"errorDeclaration": declared}


def _corrected(entry: Entry, body: words.EntryCorrected, of_stream: Stream) -> Iterator[Json]:
    """Yields what was told wrongly again, declared as wrong, and then what it should have been."""
    told = next((_event(one, of_stream) for one in of_stream(entry.stream) if one.number == body.number), None)
    if told is None:
        return
    declared = {
        "declarationTime": as_text(entry.at_us),
        "reason": "incorrect_data",
        "correctiveEventIDs": [event_id(entry)],
    }
    yield told | {"errorDeclaration": declared}
    same = ("type", "action", "bizStep", "epcList", "parentID", "childEPCs", "childQuantityList", "reprocess:step")
    kept = {name: value for name, value in told.items() if name in same}
    yield kept | _frame(entry) | {"eventTime": told["eventTime"]} | _sensors(entry)


def event_id(entry: Entry) -> str:
    """Returns the id of an entry's event: always the same."""
    return f"urn:uuid:{entry.id}"


def address(kind: str, name: str) -> str:
    """Returns the address of a thing: a GS1 Digital Link where an item's id is a GIAI, else under our own name."""
    if kind == StreamKind.ITEM and is_giai(name):
        return f"{GIAI}/{name}"
    return f"urn:reprocess:{kind}:{quote(name, safe='')}"


def _event(entry: Entry, of_stream: Stream) -> Json | None:
    """Returns the event that an entry tells of, or None where it tells of none."""
    kind = entry.stream.partition(":")[0]
    body = entry.body
    if kind == StreamKind.LOAD:
        return _of_load(entry, body)
    if kind == StreamKind.PLACE and isinstance(body, words.PlaceRead):
        place = address(StreamKind.PLACE, subject_of(entry.stream))
        return _object(entry, "OBSERVE", "sensor_reporting", epcs=[]) | {"readPoint": {"id": place}} | _sensors(entry)
    if kind != StreamKind.ITEM:
        return None
    if isinstance(body, words.HoldPlaced | words.HoldLifted):
        return _hold(entry, body, of_stream)
    return _of_assembly(entry, body, of_stream) or _of_item(entry, body)


_PLAIN: Final[dict[type[Body], tuple[str, str, str | None]]] = {
    words.ItemCommissioned: ("ADD", "commissioning", "active"),
    words.ItemReceived: ("OBSERVE", "receiving", "in_progress"),
    words.ItemReturned: ("OBSERVE", "receiving", "returned"),
    words.ItemSent: ("OBSERVE", "shipping", "in_transit"),
    words.ItemLent: ("OBSERVE", "shipping", "in_transit"),
    words.ItemIssued: ("OBSERVE", "dispensing", "dispensed"),
    words.ItemContaminated: ("OBSERVE", "other", "unavailable"),
    words.ItemReleased: ("OBSERVE", "other", "available"),
    words.ItemSentToRepair: ("OBSERVE", "repairing", "damaged"),
    words.ItemRepaired: ("OBSERVE", "repairing", "unavailable"),
    words.ItemCondemned: ("DELETE", "decommissioning", "inactive"),
    words.ItemLost: ("OBSERVE", "other", "unknown"),
    words.ItemPlaced: ("OBSERVE", "storing", None),
    words.ItemTakenOut: ("OBSERVE", "picking", None),
    words.DwellStarted: ("OBSERVE", "other", "in_progress"),
    words.DwellEnded: ("OBSERVE", "other", "in_progress"),
    words.DwellBroken: ("OBSERVE", "other", "non_conformant"),
}
"""What an entry of an item's stream is in EPCIS: the action, the business step and the disposition.

CBV has no step for cleaning, disinfecting and drying: those are `other`, with our own word beside it.
"""


def _of_item(entry: Entry, body: Body) -> Json | None:
    match body:
        case words.StepDone():
            return _step(entry, body.step, "in_progress")
        case words.StepFailed():
            return _step(entry, body.step, "non_conformant")
        case words.ItemInspectedInStore():
            good = "conformant" if body.passed else "non_conformant"
            return _object(entry, "OBSERVE", "inspecting", good) | _sensors(entry)
        case _:
            row = _PLAIN.get(type(body))
    if row is None:
        return None
    found = _object(entry, *row) | _where(body) | _sensors(entry)
    step = getattr(body, "step", None)
    return found | {"reprocess:step": step} if isinstance(step, str) else found


def _step(entry: Entry, step: str, disposition: str) -> Json:
    looked = step.startswith(INSPECTIONS) or step.endswith(INSPECTIONS)
    told = _object(entry, "OBSERVE", "inspecting" if looked else "other", disposition)
    return told | {"reprocess:step": step} | _sensors(entry)


def _where(body: Body) -> Json:
    """Returns where an item is from then on, or between which sites it goes."""
    match body:
        case words.ItemIssued() | words.ItemReturned() | words.ItemPlaced():
            return {"bizLocation": {"id": address(StreamKind.PLACE, body.place)}}
        case words.ItemSent():
            return {"destinationList": [{"type": "location", "destination": address(StreamKind.SITE, body.to)}]}
        case words.ItemReceived():
            return {
                "bizLocation": {"id": address(StreamKind.SITE, body.site)},
                "sourceList": [{"type": "location", "source": address(StreamKind.SITE, body.came_from)}],
            }
        case words.ItemCommissioned():
            return {"bizLocation": {"id": address(StreamKind.SITE, body.site)}}
        case _:
            return {}


def _hold(entry: Entry, body: words.HoldPlaced | words.HoldLifted, of_stream: Stream) -> Json | None:
    """Returns what a hold makes of an item for as long as any hold of that sort is open."""
    open_before: dict[str, str] = {}
    for one in of_stream(entry.stream):
        if one.number >= entry.number:
            break
        if isinstance(one.body, words.HoldPlaced):
            open_before[one.body.hold] = _persistent(one.body.sort)
        elif isinstance(one.body, words.HoldLifted):
            open_before.pop(one.body.hold, None)
    if isinstance(body, words.HoldPlaced):
        return _object(entry, "OBSERVE", "holding") | {"persistentDisposition": {"set": [_persistent(body.sort)]}}
    ended = open_before.pop(body.hold, None)
    found = _object(entry, "OBSERVE", "holding")
    over = ended is not None and ended not in open_before.values()
    return found | {"persistentDisposition": {"unset": [ended]}} if over else found


def _persistent(sort: str) -> str:
    return "recalled" if sort == "recall" else "unavailable"


def _of_assembly(entry: Entry, body: Body, of_stream: Stream) -> Json | None:
    match body:
        case words.AssemblyBuilt():
            counted = [_counted(name, count) for name, count in sorted(body.counts.items()) if count]
            return _association(entry, subject_of(entry.stream), "ADD", _members(body.members), counted)
        case words.AssemblyDissolved():
            return _association(entry, subject_of(entry.stream), "DELETE", _members(body.members), [])
        case words.MemberJoined() | words.MemberLeft() if not _told_by_the_whole(entry, body.assembly, of_stream):
            action = "ADD" if isinstance(body, words.MemberJoined) else "DELETE"
            return _association(entry, body.assembly, action, [_item(entry)], [])
        case _:
            return None


def _told_by_the_whole(entry: Entry, assembly: str, of_stream: Stream) -> bool:
    """Tells whether the same request wrote which parts make up the whole, or no longer do."""
    built = (words.AssemblyBuilt, words.AssemblyDissolved)
    whole = of_stream(stream(StreamKind.ITEM, assembly))
    return any(isinstance(one.body, built) and one.envelope.key == entry.envelope.key for one in whole)


def _association(entry: Entry, whole: str, action: str, parts: list[str], counted: list[Json]) -> Json:
    found = {
        "type": "AssociationEvent",
        "action": action,
        "bizStep": "assembling" if action == "ADD" else "disassembling",
        "parentID": address(StreamKind.ITEM, whole),
        "childEPCs": parts,
        **_frame(entry),
    }
    return found | ({"childQuantityList": counted} if counted else {})


def _members(members: dict[str, str]) -> list[str]:
    return sorted(address(StreamKind.ITEM, one) for one in members.values())


def _counted(name: str, count: int) -> Json:
    return {"epcClass": address("class", name), "quantity": count}


def _of_load(entry: Entry, body: Body) -> Json | None:
    load = address(StreamKind.LOAD, subject_of(entry.stream))
    match body:
        case words.LoadAdded():
            return _aggregation(entry, load, "ADD", tuple(body.items))
        case words.LoadRemoved():
            return _aggregation(entry, load, "DELETE", body.items)
        case words.LoadUnloaded() if body.items:
            return _aggregation(entry, load, "DELETE", body.items)
        case words.LoadRecorded():
            return _object(entry, "OBSERVE", "sensor_reporting", epcs=[load]) | _sensors(entry)
        case words.LoadPassed():
            return _object(entry, "OBSERVE", "inspecting", "conformant", [load])
        case words.LoadFailed():
            return _object(entry, "OBSERVE", "inspecting", "non_conformant", [load])
        case _:
            return None


def _aggregation(entry: Entry, load: str, action: str, items: Iterable[str]) -> Json:
    return {
        "type": "AggregationEvent",
        "action": action,
        "bizStep": "loading" if action == "ADD" else "unloading",
        "parentID": load,
        "childEPCs": sorted(address(StreamKind.ITEM, one) for one in items),
        **_frame(entry),
    }


def _object(
    entry: Entry, action: str, step: str, disposition: str | None = None, epcs: list[str] | None = None
) -> Json:
    found: Json = {
        "type": "ObjectEvent",
        "action": action,
        "bizStep": step,
        "epcList": [_item(entry)] if epcs is None else epcs,
        **_frame(entry),
    }
    return found if disposition is None else found | {"disposition": disposition}


def _item(entry: Entry) -> str:
    return address(StreamKind.ITEM, subject_of(entry.stream))


def _frame(entry: Entry) -> Json:
    """Returns what every event has: its id, when it happened, when it was recorded, and where."""
    envelope = entry.envelope
    found: Json = {
        "eventID": event_id(entry),
        "eventTime": as_text(entry.occurred_us),
        "recordTime": as_text(entry.at_us),
        "eventTimeZoneOffset": offset(envelope.offset_min),
        "reprocess:entry": entry.kind,
    }
    if envelope.station is not None:
        found["readPoint"] = {"id": address(StreamKind.STATION, envelope.station)}
    return found


def offset(minutes: int) -> str:
    """Returns an offset from UTC, such as `-04:00`."""
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else '+'}{hours:02}:{rest:02}"


_MEASURES: Final = {
    "Cel": ("Temperature", "CEL"),
    "L/min": ("VolumeFlowRate", "L2"),
    "%": ("Dimensionless", "P1"),
    "[ppm]": ("Dimensionless", "59"),
    "kPa": ("Pressure", "KPA"),
    "Pa": ("Pressure", "PAL"),
    "mm": ("Length", "MMT"),
    "mL": ("Volume", "MLT"),
    "L": ("Volume", "LTR"),
    "min": ("Time", "MIN"),
    "h": ("Time", "HUR"),
    "s": ("Time", "SEC"),
    "V": ("Voltage", "VLT"),
}
"""The kind of measurement and the unit, by the UCUM code of the reading's unit."""
LETHALITY: Final = "a0_s"


def _sensors(entry: Entry) -> Json:
    """Returns what was measured, one sensor element a reading; the dose of heat (A0) under our own name, in seconds."""
    body = entry.body
    data: Json = {"time": as_text(entry.occurred_us)}
    used = getattr(body, "instrument", None) or getattr(body, "logger", None)
    if isinstance(used, str):
        data["deviceID"] = address(StreamKind.INSTRUMENT, used)
    read = [
        {"sensorMetadata": data | {"reprocess:reading": one.key}, "sensorReport": [_report(one)]}
        for one in (corrections_of(body) if isinstance(body, words.EntryCorrected) else readings_of(body))
        if one.value is not None
    ]
    return {"sensorElementList": read} if read else {}


def _report(one: Read) -> Json:
    own = f"urn:reprocess:reading:{one.key}"
    value = number_of(one.value or "")
    if value is None:
        return {"type": own, "stringValue": one.value}
    measured = _MEASURES.get(one.unit[0]) if one.unit is not None else None
    if measured is None:
        return {"type": own, "value": value}
    kind = own if one.key == LETHALITY else measured[0]
    return {"type": kind, "value": value, "uom": measured[1]}
