"""What was measured as Observation: readings of steps, strip tests, sensors of places, the records of loads.

Sources: HL7 FHIR R5 (5.0.0), pages "observation", "valueset-observation-status", "valueset-data-absent-reason".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from reprocess.exchange.fhir.devices import instrument_ref
from reprocess.exchange.fhir.terms import (
    DATA_ABSENT_CODES,
    Json,
    Made,
    Seeing,
    concept,
    extension,
    meta,
    named,
    number_of,
    of,
    quantity,
    staff,
    unit_named,
    unit_of,
    uuid,
    wearer,
)
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body
from reprocess.terms import StreamKind, as_text, subject_of

_LIMIT: Final = re.compile(r"(?P<low>-?[0-9.]*[0-9])?\.\.(?P<high>-?[0-9.]*[0-9])?")


@dataclass(frozen=True, slots=True)
class Read:
    """Is one value that an entry keeps; `value` is None where nothing was read, and `why` says so."""

    key: str
    value: str | None
    limit: str | None = None
    unit: tuple[str, str] | None = None
    good: bool | None = None
    why: str | None = None


def observations(entries: list[Entry], seeing: Seeing) -> list[Made]:
    """Returns an Observation for each value in one stream of an item, a solution, a place or a load, oldest first."""
    void, better = taken_back(entries), _corrections(entries)
    subject = _SUBJECTS.get(entries[0].stream.partition(":")[0]) if entries else None
    if subject is None:
        return []
    found = []
    for entry in entries:
        for place, one in enumerate(readings_of(entry.body)):
            changed = void.get(entry.number) or _corrects(better.get(entry.number), one.key) or entry
            made = _observation(entry, place, one, seeing) | {"subject": subject(subject_of(entry.stream))}
            if entry.number in void:
                made["status"] = "entered-in-error"
            elif changed is not entry:
                made |= _corrected(changed, one)
            made["meta"] = meta(changed.number, changed.at_us)
            found.append(Made(changed.feed, {name: value for name, value in made.items() if value is not None}))
    return found


def readings_of(body: Body) -> list[Read]:
    """Returns the values that an entry keeps, in an order that stays; a correction has none of its own."""
    match body:
        case words.SolutionTested():
            return [_strip(body)]
        case words.PlaceRead():
            return [Read(body.reading, body.value, body.limit, unit_of(body.reading), body.good)]
        case words.LoadRecorded():
            told = {"lowest_c": body.lowest_c, "hottest_c": body.hottest_c, **body.readings}
            doses = [Read("a0_s", one.a0_s, None, unit_of("a0_s")) for one in body.doses]
            return [Read(key, value, None, unit_of(key)) for key, value in sorted(told.items())] + doses
        case words.EntryCorrected():
            return []
        case _:
            return _of_step(body)


def _strip(body: words.SolutionTested) -> Read:
    unit = unit_named(body.unit)
    limit = None if body.limit is None else f"{body.limit}.."
    if not body.valid:
        return Read("concentration", None, limit, unit, None, "error")
    return Read("concentration", body.reading, limit, unit, body.passed, "unknown")


def _of_step(body: Body) -> list[Read]:
    told: dict[str, str] = dict(getattr(body, "readings", None) or {})
    limits: dict[str, str] = getattr(body, "limits", None) or {}
    if isinstance(body, words.DwellStarted | words.DwellEnded) and body.temp_c is not None:
        told.setdefault("temp_c", body.temp_c)
    if isinstance(body, words.DwellEnded) and body.dose_a0_s is not None:
        told.setdefault("a0_s", body.dose_a0_s)
    return [Read(key, value, limits.get(key), unit_of(key)) for key, value in sorted(told.items())]


def corrections_of(body: words.EntryCorrected) -> list[Read]:
    """Returns the values that a correction puts in the place of others."""
    return _of_step(body)


def observation_id(entry: Entry, place: int) -> str:
    """Returns the id of the value at that place among those that an entry keeps."""
    return f"{entry.feed}.{place}"


def _observation(entry: Entry, place: int, one: Read, seeing: Seeing) -> Json:
    body = entry.body
    used = getattr(body, "instrument", None) or getattr(body, "logger", None)
    actor = getattr(body, "done_by", None) or entry.envelope.actor
    worn = isinstance(body, words.WearStepDone)
    by = [] if actor is None and not worn else [wearer(seeing, actor) if worn else staff(str(actor))]
    evidence = getattr(body, "evidence", None)
    return {
        "resourceType": "Observation",
        "id": observation_id(entry, place),
        "extension": [extension("evidence", valueCode=evidence)] if isinstance(evidence, str) else None,
        "identifier": [uuid(entry.id)],
        "status": "final" if one.why != "error" else "cancelled",
        "code": concept("reading", one.key),
        "effectiveDateTime": as_text(entry.occurred_us),
        "issued": as_text(entry.at_us),
        "performer": by or None,
        "device": instrument_ref(used) if isinstance(used, str) else None,
        "interpretation": _interpretation(one),
        "referenceRange": _range(one),
        **_value(one.value, one),
    }


def _value(value: str | None, one: Read) -> Json:
    if value is None:
        return {"dataAbsentReason": {"coding": [{"system": DATA_ABSENT_CODES, "code": one.why or "unknown"}]}}
    amount = quantity(value, one.unit)
    return {"valueString": value} if amount is None else {"valueQuantity": amount}


def _interpretation(one: Read) -> list[Json] | None:
    """Returns whether it was within its limits, where the record itself says so."""
    return None if one.good is None else [concept("finding", "within-limits" if one.good else "out-of-limits")]


def _range(one: Read) -> list[Json] | None:
    """Returns the limits it was judged by: as numbers where they are such, else as they stand."""
    if not one.limit:
        return None
    found = _LIMIT.fullmatch(one.limit)
    ends = {} if found is None else {name: text for name, text in found.groupdict().items() if text is not None}
    if not ends or any(number_of(text) is None for text in ends.values()):
        return [{"text": one.limit}]
    return [{name: quantity(text, one.unit) for name, text in ends.items()}]


def taken_back(entries: Iterable[Entry]) -> dict[int, Entry]:
    """Returns, by the number of each entry that does not count or is about another item, the entry that says so."""
    found: dict[int, Entry] = {}
    for entry in entries:
        body = entry.body
        match body:
            case words.EntryUndone() | words.HistorySplit():
                found |= dict.fromkeys(body.numbers, entry)
            case words.EntryCorrected() if body.mistaken:
                found[body.number] = entry
            case _:
                pass
    return found


def _corrections(entries: Iterable[Entry]) -> dict[int, list[Entry]]:
    """Returns what corrects each entry, oldest first, by the number of the entry meant."""
    found: dict[int, list[Entry]] = {}
    for entry in entries:
        if isinstance(entry.body, words.EntryCorrected):
            found.setdefault(entry.body.number, []).append(entry)
    return found


def _corrects(entries: list[Entry] | None, key: str) -> Entry | None:
    """Returns the latest correction that says what a reading should have been."""
    told = [one for one in entries or () if key in getattr(one.body, "readings", {})]
    return told[-1] if told else None


def _corrected(entry: Entry, one: Read) -> Json:
    body = entry.body
    if not isinstance(body, words.EntryCorrected):
        return {}
    said = f"It said {one.value} before. {body.reason}"
    return {"status": "corrected", "note": [{"time": as_text(entry.at_us), "text": said}]} | _value(
        body.readings[one.key], one
    )


_SUBJECTS: Final[dict[str, Callable[[str], Json]]] = {
    StreamKind.ITEM: lambda name: of("Device", name),
    StreamKind.SOLUTION: lambda name: named("Substance", "solution", name),
    StreamKind.PLACE: lambda name: named("Location", "place", name),
    StreamKind.LOAD: lambda name: named("Group", "load", name),
}
"""Whose values are told, and how the subject is named."""
