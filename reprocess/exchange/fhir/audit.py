"""Every entry of the record as AuditEvent: who did what, where, about what, when it was recorded.

What an entry says is not repeated, so that nothing leaks by it; about wearers and cases not even whom it means.

Sources: HL7 FHIR R5 (5.0.0), pages "auditevent", "valueset-audit-event-action", "valueset-audit-event-outcome".
"""

from __future__ import annotations

from typing import Final

from reprocess.exchange.fhir.devices import instrument_id
from reprocess.exchange.fhir.terms import (
    SEVERITY,
    Json,
    Made,
    Seeing,
    absent,
    concept,
    meta,
    named,
    of,
    staff,
    uuid,
    wearer,
)
from reprocess.exchange.fhir.work import WORN
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import StreamKind, as_text, subject_of

_READS: Final = (words.WearerNameRead, words.WearerTraced, words.CaseRead, words.CaseListed)
_DELETES: Final = (words.WearerErased, words.NamesPurged)
_CREATES: Final = (
    words.ItemCommissioned,
    words.SiteOpened,
    words.StationOpened,
    words.PersonRegistered,
    words.InstrumentRegistered,
    words.WearerRegistered,
    words.WorkflowPublished,
    words.SolutionMade,
    words.LoadOpened,
    words.LotReceived,
    words.PlaceOpened,
    words.CaseOpened,
    words.RecallPreviewed,
    words.FileKept,
    words.FormEntered,
)
_RUNS: Final = (
    words.AdvanceRefused,
    words.ReminderRang,
    words.ReminderEscalated,
    words.ReminderDelivered,
    words.ReminderUndelivered,
)
_WEARERS: Final = frozenset({StreamKind.WEARER, StreamKind.CASE})


def audit_event(entry: Entry, seeing: Seeing) -> Made:
    """Returns one entry as an AuditEvent."""
    envelope = entry.envelope
    station = envelope.station or "department"
    found: Json = {
        "resourceType": "AuditEvent",
        "id": str(entry.feed),
        "meta": meta(1, entry.at_us),
        "extension": [{"url": "urn:reprocess:entry", "valueIdentifier": uuid(entry.id)}],
        "code": concept("entry", entry.kind),
        "action": action_of(entry),
        "occurredDateTime": as_text(entry.occurred_us),
        "recorded": as_text(entry.at_us),
        "outcome": {"code": {"system": SEVERITY, "code": _outcome(entry)}},
        "agent": _agents(entry, seeing),
        "source": {"observer": named("Device", "station", station)},
        "entity": [_entity(entry, seeing)],
    }
    return Made(entry.feed, found)


def action_of(entry: Entry) -> str:
    """Returns C where something becomes known, R where names were read, D where they were erased.

    E is what the program did, U every other entry about what is known; the record itself only grows.
    """
    if isinstance(entry.body, _READS):
        return "R"
    if isinstance(entry.body, _DELETES):
        return "D"
    if isinstance(entry.body, _RUNS):
        return "E"
    return "C" if isinstance(entry.body, _CREATES) else "U"


def _outcome(entry: Entry) -> str:
    body = entry.body
    if isinstance(body, words.AdvanceRefused):
        return "error"
    return "warning" if isinstance(body, words.ReminderUndelivered) else "success"


def _agents(entry: Entry, seeing: Seeing) -> list[Json]:
    envelope = entry.envelope
    if envelope.actor is None:
        return [{"who": named("Device", "program", "reprocess"), "requestor": False}]
    worn = isinstance(entry.body, WORN)
    first = {"who": wearer(seeing, envelope.actor) if worn else staff(envelope.actor), "requestor": True}
    if envelope.second is None:
        return [first]
    return [first, {"who": staff(envelope.second), "requestor": False}]


def _entity(entry: Entry, seeing: Seeing) -> Json:
    number = {"type": concept("detail", "number"), "valueInteger": entry.number}
    return {"what": about(entry.stream, seeing), "detail": [number]}


def about(stream: str, seeing: Seeing) -> Json:
    """Returns a reference to the subject of a stream; masked where it is a wearer or a case and may not be seen."""
    kind, name = stream.partition(":")[0], subject_of(stream)
    if kind in _WEARERS and not seeing.wearers:
        return absent("masked")
    match kind:
        case StreamKind.ITEM:
            return of("Device", name)
        case StreamKind.INSTRUMENT:
            return of("Device", instrument_id(name))
        case StreamKind.PERSON:
            return staff(name)
        case StreamKind.WEARER:
            return wearer(seeing, name)
        case _:
            return {"identifier": {"system": f"urn:reprocess:{kind}", "value": name}}
