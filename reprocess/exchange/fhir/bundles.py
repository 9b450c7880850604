"""What goes round resources: a page of a search, an outcome, and the statement of what is served.

Sources: HL7 FHIR R5 (5.0.0), pages "bundle", "search", "operationoutcome", "capabilitystatement".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final
from urllib.parse import urlencode

from reprocess.exchange.fhir.terms import Json
from reprocess.terms import as_text

FHIR_VERSION: Final = "5.0.0"
MEDIA_TYPE: Final = "application/fhir+json"

_LAST_UPDATED: Final = ("_lastUpdated", "date")
_ID: Final = ("_id", "token")
SEARCHES: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "AuditEvent": (_ID, _LAST_UPDATED, ("entity", "reference")),
    "Device": (_ID, _LAST_UPDATED, ("identifier", "token"), ("status", "token")),
    "DeviceDefinition": (_ID, ("identifier", "token")),
    "DeviceDispense": (_ID, _LAST_UPDATED, ("status", "token"), ("subject", "reference")),
    "Observation": (_ID, _LAST_UPDATED, ("status", "token"), ("subject", "reference")),
    "Task": (_ID, _LAST_UPDATED, ("status", "token"), ("focus", "reference")),
}
"""Every resource that is served, with the search parameters that it takes and their types."""
_OFTEN: Final = frozenset({"_id", "_lastUpdated"})


def searchset(
    base: str, asked: list[tuple[str, str]], found: Iterable[Json], more: str | None, *, total: int | None
) -> Json:
    """Returns one page of a search.

    Args:
        base: the address of the resource's kind, such as `https://example.org/v1/fhir/Device`.
        asked: the parameters of this page in order, without where it begins.
        found: the resources of this page.
        more: where the next page begins, or None where this is the last one.
        total: how many there are in all, where that is known.
    """
    root, _, kind = base.rpartition("/")
    links = [{"relation": "self", "url": _address(base, asked)}]
    if more is not None:
        links.append({"relation": "next", "url": _address(base, [*asked, ("_after", more)])})
    entries = [{"fullUrl": f"{root}/{kind}/{one['id']}", "resource": one, "search": {"mode": "match"}} for one in found]
    page: Json = {"resourceType": "Bundle", "type": "searchset", "link": links}
    if total is not None:
        page["total"] = total
    return page | ({"entry": entries} if entries else {})


def _address(base: str, asked: list[tuple[str, str]]) -> str:
    return f"{base}?{urlencode(asked)}" if asked else base


def outcome(code: str, sentence: str, *, severity: str = "error") -> Json:
    """Returns what went wrong, as an OperationOutcome with one issue."""
    issue = {"severity": severity, "code": code, "diagnostics": sentence, "details": {"text": sentence}}
    return {"resourceType": "OperationOutcome", "issue": [issue]}


def capabilities(base: str, version: str, now_us: int) -> Json:
    """Returns exactly what is served: reading and searching, by the parameters named, and nothing else."""
    return {
        "resourceType": "CapabilityStatement",
        "status": "active",
        "date": as_text(now_us),
        "kind": "instance",
        "fhirVersion": FHIR_VERSION,
        "format": [MEDIA_TYPE],
        "software": {"name": "reprocess", "version": version},
        "implementation": {"description": "The record of one department, to read.", "url": base},
        "rest": [
            {
                "mode": "server",
                "documentation": _HOW,
                "security": {"description": "A session cookie, or a token with the scopes of what is read."},
                "resource": [_resource(kind) for kind in sorted(SEARCHES)],
            }
        ],
    }


_HOW: Final = (
    "Nothing can be written here. A parameter that is not listed is refused, so that no page is wider than was asked. "
    "`_count` is the most of one page; a page may hold fewer although there is a next one. Wearers are pseudonyms, "
    "and masked without the scope for them."
)


def _resource(kind: str) -> Json:
    own = [{"name": name, "type": sort, "definition": _definition(kind, name)} for name, sort in SEARCHES[kind]]
    return {
        "type": kind,
        "profile": f"http://hl7.org/fhir/StructureDefinition/{kind}",
        "interaction": [{"code": "read"}, {"code": "search-type"}],
        "versioning": "no-version",
        "searchParam": own,
    }


def _definition(kind: str, name: str) -> str:
    """Returns the address of a search parameter's definition (page "searchparameter-registry")."""
    if name in _OFTEN:
        return f"http://hl7.org/fhir/SearchParameter/Resource-{name.removeprefix('_')}"
    return f"http://hl7.org/fhir/SearchParameter/{kind}-{name}"
