"""Items and instruments as Device, models and approved configurations as DeviceDefinition.

Sources: HL7 FHIR R5 (5.0.0), pages "device", "devicedefinition", "valueset-device-status",
"valueset-device-availability-status".
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from typing import Any, Final

from reprocess.definitions.configuration import Configuration, Slot
from reprocess.exchange.fhir.terms import (
    AVAILABILITY,
    Json,
    concept,
    identifier,
    is_id,
    meta,
    named,
    of,
    ours,
)
from reprocess.record.places import Instrument
from reprocess.record.standing import Standing
from reprocess.scan.identifier import DeviceIdentifier, Standard
from reprocess.terms import Stage, as_text

INSTRUMENT: Final = "instrument."
"""How the id of an instrument's Device begins; no id of an item holds a full stop."""
ISSUERS: Final = {
    Standard.GS1: "http://hl7.org/fhir/NamingSystem/gs1-di",
    Standard.HIBC: "http://hl7.org/fhir/NamingSystem/hibcc-diI",
    Standard.ISBT_128: "http://hl7.org/fhir/NamingSystem/iccbba-other-di",
}
"""The agencies that assign device identifiers, as page "device" names them (Device.udiCarrier.issuer)."""


def device(item: Standing, now_us: int, label: DeviceIdentifier | None = None, printed: str | None = None) -> Json:
    """Returns an item as a Device.

    Args:
        item: where it stands.
        now_us: the instant at which its availability is told.
        label: what the maker's label of its lot says, where that is known.
        printed: that label as it was read.
    """
    changed_us = item.change.moment.wall_us if item.change is not None else item.since_us
    found: Json = {
        "resourceType": "Device",
        "id": item.item,
        "meta": meta(item.number, changed_us),
        "identifier": [identifier(item.item)],
        "status": status_of(item),
    }
    if not item.item_kind:
        return found
    available = availability_of(item, now_us)
    if available is not None:
        found["availabilityStatus"] = {"coding": [{"system": AVAILABILITY, "code": available}]}
    found |= {
        "displayName": item.item,
        "definition": {"reference": of("DeviceDefinition", definition_id("model", item.model))},
        "modelNumber": item.model,
        "type": [concept("item-kind", item.item_kind)],
        "owner": named("Organization", "site", item.site),
        "property": list(_properties(item)),
    }
    return found | _whole_and_place(item) | _numbers(item) | _carrier(label, printed)


def status_of(item: Standing) -> str:
    """Returns whether the record of the device is current: one that was entered by mistake has no kind any more."""
    if not item.item_kind:
        return "entered-in-error"
    return "inactive" if item.stage == Stage.CONDEMNED else "active"


def availability_of(item: Standing, now_us: int) -> str | None:
    """Returns lost, damaged, destroyed or available, or None where none of the four is true.

    Available means ready, in the department, in nothing else and not held; whether it may be issued, the department
    answers when it is.
    """
    aside = {Stage.LOST: "lost", Stage.IN_REPAIR: "damaged", Stage.CONDEMNED: "destroyed"}
    if item.stage in aside:
        return aside[Stage(item.stage)]
    kept = item.ready_until_us is None or item.ready_until_us > now_us
    inside = item.assembly is None and item.custody is None and item.load is None
    return "available" if item.stage == Stage.READY and kept and inside and not item.held else None


def _whole_and_place(item: Standing) -> Json:
    found: Json = {}
    if item.assembly is not None:
        found["parent"] = of("Device", item.assembly)
    place = item.custody.place if item.custody is not None else item.place
    if place is not None:
        found["location"] = named("Location", "place", place)
    return found


def _numbers(item: Standing) -> Json:
    told = {"serialNumber": item.serial, "lotNumber": item.lot}
    found: Json = {name: value for name, value in told.items() if value is not None}
    if item.sealed_expiry_us is not None:
        found["expirationDate"] = as_text(item.sealed_expiry_us)
    return found


def _carrier(label: DeviceIdentifier | None, printed: str | None) -> Json:
    if label is None:
        return {}
    carrier = {"deviceIdentifier": label.device, "issuer": ISSUERS[label.standard], "entryType": "unknown"}
    if printed is not None and printed.isprintable():
        carrier["carrierHRF"] = printed
    return {"udiCarrier": [carrier]}


def _properties(item: Standing) -> Iterator[Json]:
    """Yields what FHIR has no element for: the stage and what it rests on, each under our own name."""
    yield _property("stage", valueCodeableConcept=concept("stage", str(item.stage)))
    yield _property("stage-since", valueString=as_text(item.since_us))
    yield _property(
        "contamination-class", valueCodeableConcept=concept("contamination-class", item.contamination_class)
    )
    yield _property("workflow", valueString=item.workflow)
    yield _property("workflow-digest", valueString=item.digest)
    yield _property("cycle", valueInteger=item.cycle)
    yield _property("cycles-done", valueInteger=item.cycles_done)
    yield _property("quantity", valueInteger=item.quantity)
    for hold in sorted(item.holds.values(), key=lambda one: one.number):
        yield _property("hold", valueCodeableConcept=concept("hold", hold.sort, hold.cause))
    if item.ready_until_us is not None:
        yield _property("ready-until", valueString=as_text(item.ready_until_us))
    if item.custody is not None:
        yield _property("custody", valueCodeableConcept=concept("custody", item.custody.sort))
    if item.slot is not None:
        yield _property("slot", valueString=item.slot)
    if item.configuration is not None:
        yield _property("configuration", valueString=item.configuration)


def _property(name: str, **value: Any) -> Json:
    return {"type": concept("property", name), **value}


def instrument(one: Instrument) -> Json:
    """Returns a measuring instrument or a machine as a Device."""
    found: Json = {
        "resourceType": "Device",
        "id": instrument_id(one.instrument),
        "meta": {"versionId": str(one.number)},
        "identifier": [{"system": ours("instrument"), "value": one.instrument}],
        "status": "active",
        "displayName": one.instrument,
        "type": [concept("instrument-sort", one.sort)],
        "owner": named("Organization", "site", one.site),
    }
    if one.faulty:
        found["availabilityStatus"] = {"coding": [{"system": AVAILABILITY, "code": "damaged"}]}
    if one.part_of is not None:
        found["parent"] = of("Device", instrument_id(one.part_of))
    if one.verified_until_us is not None:
        found["property"] = [_property("verified-until", valueString=as_text(one.verified_until_us))]
    return found


def instrument_id(name: str) -> str:
    """Returns the id of an instrument's Device."""
    return _as_id(INSTRUMENT, name)


def instrument_ref(name: str) -> Json:
    """Returns a reference to an instrument."""
    return of("Device", instrument_id(name))


def definition_id(sort: str, name: str) -> str:
    """Returns the id of a DeviceDefinition: of a `model`, a `kind` of item or a `configuration`."""
    return _as_id(f"{sort}.", name)


def _as_id(prefix: str, name: str) -> str:
    """Returns an id that FHIR takes: the name itself, or the beginning of its digest where it holds other signs."""
    plain = f"{prefix}{name}"
    return plain if is_id(plain) else f"{prefix}{hashlib.sha256(name.encode()).hexdigest()[:_DIGEST]}"


_DIGEST: Final = 40


def model(name: str, item_kind: str) -> Json:
    """Returns a model of items."""
    return _definition("model", name) | {
        "modelNumber": name,
        "deviceName": [{"name": name, "type": "user-friendly-name"}],
        "classification": [{"type": concept("item-kind", item_kind)}],
    }


def kind(item_kind: str, models: Iterable[str]) -> Json:
    """Returns a kind of item, which stands where one of several models may."""
    return _definition("kind", item_kind) | {
        "deviceName": [{"name": item_kind, "type": "user-friendly-name"}],
        "classification": [{"type": concept("item-kind", item_kind)}],
        "property": [_property("model", valueString=one) for one in sorted(set(models))],
    }


def configuration(one: Configuration) -> Json:
    """Returns an approved configuration with its parts; where several models may stand, the part is their kind."""
    return _definition("configuration", one.configuration) | {
        "description": one.title,
        "deviceName": [{"name": one.title, "type": "user-friendly-name"}],
        "hasPart": [{"reference": _part(slot), "count": slot.quantity} for slot in one.slots],
        "property": [
            *(_property(f"slot-{slot.slot}", valueString=" or ".join(slot.models)) for slot in one.slots),
            *(_property(name, valueInteger=getattr(one, name)) for name in ("ports", "filters", "plugs", "gaskets")),
            _property("approval", valueString=one.approval),
        ],
    }


def _part(slot: Slot) -> Json:
    if len(slot.models) == 1:
        return of("DeviceDefinition", definition_id("model", slot.models[0]))
    return of("DeviceDefinition", definition_id("kind", slot.item_kind))


def _definition(sort: str, name: str) -> Json:
    return {
        "resourceType": "DeviceDefinition",
        "id": definition_id(sort, name),
        "identifier": [{"system": ours(sort), "value": name}],
    }
