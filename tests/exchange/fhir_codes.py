"""The codes that FHIR binds as required, by the place where they stand, and the check that nothing else is sent.

The public model library checks structure, not bindings: it takes Device.status "nonsense". So the lists stand here.
Source of every list: HL7 FHIR R5 (5.0.0, 26 March 2023), the page that is named beside it, https://hl7.org/fhir/R5/.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

DEVICE_STATUS: Final = frozenset({"active", "inactive", "entered-in-error"})  # valueset-device-status.html
AVAILABILITY: Final = frozenset(  # valueset-device-availability-status.html (extensible; nothing beside it is sent)
    {"lost", "damaged", "destroyed", "available"}
)
DEVICE_NAME_TYPE: Final = frozenset(  # valueset-device-nametype.html
    {"registered-name", "user-friendly-name", "patient-reported-name"}
)
UDI_ENTRY_TYPE: Final = frozenset(  # valueset-udi-entry-type.html
    {"barcode", "rfid", "manual", "card", "self-reported", "electronic-transmission", "unknown"}
)
TASK_STATUS: Final = frozenset(  # valueset-task-status.html, 12 concepts
    {
        "draft", "requested", "received", "accepted", "rejected", "ready", "cancelled", "in-progress", "on-hold",
        "failed", "completed", "entered-in-error",
    }
)  # fmt: skip
TASK_INTENT: Final = frozenset(  # valueset-task-intent.html
    {
        "unknown", "proposal", "plan", "order", "original-order", "reflex-order", "filler-order", "instance-order",
        "option",
    }
)  # fmt: skip
DISPENSE_STATUS: Final = frozenset(  # valueset-devicedispense-status.html, 9 concepts
    {
        "preparation", "in-progress", "cancelled", "on-hold", "completed", "entered-in-error", "stopped", "declined",
        "unknown",
    }
)  # fmt: skip
OBSERVATION_STATUS: Final = frozenset(  # valueset-observation-status.html
    {"registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown"}
)
AUDIT_ACTION: Final = frozenset("CRUDE")  # valueset-audit-event-action.html
SEVERITY: Final = frozenset({"fatal", "error", "warning", "information", "success"})  # valueset-issue-severity.html
ISSUE_TYPE: Final = frozenset(  # valueset-issue-type.html, 33 concepts
    {
        "invalid", "structure", "required", "value", "invariant", "security", "login", "unknown", "expired",
        "forbidden", "suppressed", "processing", "not-supported", "duplicate", "multiple-matches", "not-found",
        "deleted", "too-long", "code-invalid", "extension", "too-costly", "business-rule", "conflict", "limited-filter",
        "transient", "lock-error", "no-store", "exception", "timeout", "incomplete", "throttled", "informational",
        "success",
    }
)  # fmt: skip
BUNDLE_TYPE: Final = frozenset(  # valueset-bundle-type.html
    {
        "document", "message", "transaction", "transaction-response", "batch", "batch-response", "history", "searchset",
        "collection", "subscription-notification",
    }
)  # fmt: skip
SEARCH_MODE: Final = frozenset({"match", "include", "outcome"})  # valueset-search-entry-mode.html
LINKS: Final = frozenset({"self", "first", "prev", "next", "last"})  # bundle.html, of the relations of IANA
DATA_ABSENT: Final = frozenset(  # valueset-data-absent-reason.html
    {
        "unknown", "asked-unknown", "temp-unknown", "not-asked", "asked-declined", "masked", "not-applicable",
        "unsupported", "as-text", "error", "not-a-number", "negative-infinity", "positive-infinity", "not-performed",
        "not-permitted",
    }
)  # fmt: skip
STATEMENT_KIND: Final = frozenset({"instance", "capability", "requirements"})  # valueset-capability-statement-kind.html
PUBLICATION: Final = frozenset({"draft", "active", "retired", "unknown"})  # valueset-publication-status.html
INTERACTION: Final = frozenset(  # valueset-type-restful-interaction.html
    {"read", "vread", "update", "patch", "delete", "history-instance", "history-type", "create", "search-type"}
)
PARAMETER: Final = frozenset(  # valueset-search-param-type.html
    {"number", "date", "string", "token", "reference", "composite", "quantity", "uri", "special"}
)
VERSIONING: Final = frozenset({"no-version", "versioned", "versioned-update"})  # valueset-versioning-policy.html

# Units that are sent; codes of UCUM 2.1 (https://ucum.org/ucum), its tables and annotations.
UCUM: Final = frozenset(
    {"Cel", "L/min", "%", "min", "mL", "mm", "Pa", "kPa", "[ppm]", "{RLU}", "s", "h", "L", "V", "mA.h"}
)

BINDINGS: Final[dict[str, frozenset[str]]] = {
    "Device.status": DEVICE_STATUS,
    "Device.udiCarrier.entryType": UDI_ENTRY_TYPE,
    "DeviceDefinition.deviceName.type": DEVICE_NAME_TYPE,
    "DeviceDispense.status": DISPENSE_STATUS,
    "Task.status": TASK_STATUS,
    "Task.intent": TASK_INTENT,
    "Observation.status": OBSERVATION_STATUS,
    "AuditEvent.action": AUDIT_ACTION,
    "AuditEvent.outcome.code.code": SEVERITY,
    "OperationOutcome.issue.severity": SEVERITY,
    "OperationOutcome.issue.code": ISSUE_TYPE,
    "Bundle.type": BUNDLE_TYPE,
    "Bundle.link.relation": LINKS,
    "Bundle.entry.search.mode": SEARCH_MODE,
    "CapabilityStatement.status": PUBLICATION,
    "CapabilityStatement.kind": STATEMENT_KIND,
    "CapabilityStatement.fhirVersion": frozenset({"5.0.0"}),  # valueset-FHIR-version.html
    "CapabilityStatement.rest.mode": frozenset({"client", "server"}),  # valueset-restful-capability-mode.html
    "CapabilityStatement.rest.resource.interaction.code": INTERACTION,
    "CapabilityStatement.rest.resource.searchParam.type": PARAMETER,
    "CapabilityStatement.rest.resource.versioning": VERSIONING,
}
"""Where a code of FHIR stands in what we send, and which codes may."""
OF_SYSTEMS: Final = {
    "http://hl7.org/fhir/device-availability-status": AVAILABILITY,
    "http://terminology.hl7.org/CodeSystem/data-absent-reason": DATA_ABSENT,
    "http://hl7.org/fhir/issue-severity": SEVERITY,
    "http://unitsofmeasure.org": UCUM,
}
"""Which codes may stand beside a system that is not ours."""


def wrong_codes(resource: dict[str, Any]) -> list[str]:
    """Returns every place of a resource where a code stands that its value set does not have."""
    return list(_wrong(resource, resource["resourceType"]))


def _wrong(value: Any, place: str) -> Iterator[str]:
    if isinstance(value, list):
        for one in value:
            yield from _wrong(one, place)
    elif isinstance(value, dict):
        yield from _wrong_parts(value, place)
    elif place in BINDINGS and value not in BINDINGS[place]:
        yield f"{place} is {value}"


def _wrong_parts(value: dict[str, Any], place: str) -> Iterator[str]:
    inside = value.get("resourceType")
    here = inside if inside is not None else place
    system = value.get("system", "urn:reprocess:")
    if "code" in value and not system.startswith("urn:") and value["code"] not in OF_SYSTEMS[system]:
        yield f"{here} has {value['code']} of {system}"
    if "valueCode" in value and not value["url"].startswith("urn:") and value["valueCode"] not in DATA_ABSENT:
        yield f"{here} is absent because {value['valueCode']}"
    for name, one in value.items():
        yield from _wrong(one, f"{here}.{name}")
