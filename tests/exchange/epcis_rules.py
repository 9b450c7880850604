"""What an EPCIS 2.0 event must look like, as far as we send it, written down from the standard's own JSON schema.

Sources: GS1 EPCIS 2.0, JSON schema (https://github.com/gs1/EPCIS, folder JSON-Schema: which members each event has and
needs, the patterns of offsets and units, the codes of bizStep, error reason and source and destination); GS1 CBV 2.0
for dispositions, of which `available`, `unavailable`, `conformant` and `non_conformant` are from memory; UN/CEFACT
Recommendation 20 for units, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any, Final

BIZ_STEPS: Final = frozenset(  # JSON-Schema/schemas/bizStep-JSON-Schema.json, 41 codes
    {
        "accepting", "arriving", "assembling", "collecting", "commissioning", "consigning", "creating_class_instance",
        "cycle_counting", "decommissioning", "departing", "destroying", "disassembling", "dispensing", "encoding",
        "entering_exiting", "holding", "inspecting", "installing", "killing", "loading", "other", "packing", "picking",
        "receiving", "removing", "repackaging", "repairing", "replacing", "reserving", "retail_selling", "sampling",
        "sensor_reporting", "shipping", "staging_outbound", "stock_taking", "stocking", "storing", "transporting",
        "unloading", "unpacking", "void_shipping",
    }
)  # fmt: skip
DISPOSITIONS: Final = frozenset(  # JSON-Schema/schemas/disposition-JSON-Schema.json, and the four named above
    {
        "active", "available", "conformant", "container_closed", "damaged", "destroyed", "dispensed", "disposed",
        "encoded", "expired", "in_progress", "in_transit", "inactive", "no_pedigree_match", "non_conformant",
        "non_sellable_other", "partially_dispensed", "recalled", "reserved", "retail_sold", "returned",
        "sellable_accessible", "sellable_not_accessible", "stolen", "unavailable", "unknown",
    }
)  # fmt: skip
MEASUREMENTS: Final = frozenset(  # JSON-Schema/schemas/measurement-type-JSON-Schema.json; those we may send
    {"Dimensionless", "Length", "Pressure", "Temperature", "Time", "Voltage", "Volume", "VolumeFlowRate"}
)
REASONS: Final = frozenset({"did_not_occur", "incorrect_data"})  # error-reason-JSON-Schema.json
OFFSET: Final = re.compile(r"[+-]((0[0-9]|1[0-3]):[0-5][0-9]|14:00)")  # event-definitions, eventTimeZoneOffset
UNITS: Final = frozenset({"CEL", "L2", "P1", "59", "KPA", "PAL", "MMT", "MLT", "LTR", "MIN", "HUR", "SEC", "VLT"})
URI: Final = re.compile(r"(https://|urn:[a-z0-9-]+:)[A-Za-z0-9._~:/%-]+")  # RFC 3986, RFC 8141

_EVERY: Final = {"type", "eventID", "eventTime", "recordTime", "eventTimeZoneOffset", "errorDeclaration", "action"}
_MORE: Final = {
    "bizStep", "disposition", "persistentDisposition", "readPoint", "bizLocation", "sourceList", "destinationList",
    "sensorElementList",
}  # fmt: skip
_OWN: Final = {
    "ObjectEvent": {"epcList", "quantityList"},
    "AggregationEvent": {"parentID", "childEPCs", "childQuantityList"},
    "AssociationEvent": {"parentID", "childEPCs", "childQuantityList"},
}


def faults(event: dict[str, Any]) -> list[str]:
    """Returns everything that the schema would not take."""
    return [*_members(event), *_times(event), *_codes(event), *_things(event), *_sensors(event)]


def _members(event: dict[str, Any]) -> Iterator[str]:
    allowed = _EVERY | _MORE | _OWN[event["type"]]
    for name in event:
        if name not in allowed and not name.startswith("reprocess:"):
            yield f"{name} is no member of {event['type']}"
    for name in ("eventID", "eventTime", "eventTimeZoneOffset", "action"):
        if name not in event:
            yield f"{name} is missing"


def _times(event: dict[str, Any]) -> Iterator[str]:
    for text in (event["eventTime"], event["recordTime"]):
        if datetime.fromisoformat(text).utcoffset() is None:
            yield f"{text} has no offset"
    if not OFFSET.fullmatch(event["eventTimeZoneOffset"]):
        yield f"{event['eventTimeZoneOffset']} is no offset"


def _codes(event: dict[str, Any]) -> Iterator[str]:
    if event["action"] not in {"OBSERVE", "ADD", "DELETE"}:
        yield f"{event['action']} is no action"
    if event["bizStep"] not in BIZ_STEPS:
        yield f"{event['bizStep']} is no step"
    told = [event["disposition"]] if "disposition" in event else []
    lasting = event.get("persistentDisposition", {})
    if not lasting.keys() <= {"set", "unset"}:
        yield "a persistent disposition sets and unsets"
    told += [one for ones in lasting.values() for one in ones]
    yield from (f"{one} is no disposition" for one in told if one not in DISPOSITIONS)
    declared = event.get("errorDeclaration", {"declarationTime": "", "reason": "did_not_occur"})
    if not declared.keys() <= {"declarationTime", "reason", "correctiveEventIDs"} or "declarationTime" not in declared:
        yield "the error declaration has other members"
    if declared["reason"] not in REASONS:
        yield f"{declared['reason']} is no reason"


def _things(event: dict[str, Any]) -> Iterator[str]:
    named = [event["eventID"], *event.get("epcList", []), *event.get("childEPCs", [])]
    named += [event[name] for name in ("parentID",) if name in event]
    named += [event[name]["id"] for name in ("readPoint", "bizLocation") if name in event]
    named += [one["epcClass"] for one in event.get("childQuantityList", [])]
    yield from (f"{one} is no URI" for one in named if not URI.fullmatch(one))
    for name in ("epcList", "childEPCs"):
        if len(set(event.get(name, []))) != len(event.get(name, [])):
            yield f"{name} names something twice"
    if event["type"] == "ObjectEvent" and "epcList" not in event:
        yield "an object event names objects"
    if event["type"] != "ObjectEvent":
        children = event.get("childEPCs") or event.get("childQuantityList")
        if "parentID" not in event or not (children or event["action"] == "DELETE"):
            yield "a parent and its children are named"


def _sensors(event: dict[str, Any]) -> Iterator[str]:
    for element in event.get("sensorElementList", []):
        if not element.keys() <= {"sensorMetadata", "sensorReport"} or not element["sensorReport"]:
            yield "a sensor element has metadata and reports"
        for report in element["sensorReport"]:
            if not report.keys() <= {"type", "value", "uom", "stringValue"} or "type" not in report:
                yield "a report has other members"
            if report["type"] not in MEASUREMENTS and not URI.fullmatch(report["type"].replace("_", "-")):
                yield f"{report['type']} is no measurement"
            if report.get("uom", "CEL") not in UNITS:
                yield f"{report['uom']} is no unit"
