"""Which request may follow which answer, as links of the OpenAPI document: what was made is read, changed and ended.

A row says where the name stands in a request or its answer (OpenAPI 3.1.0, section 4.8.20.3, "Runtime Expressions").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True, slots=True)
class Leads:
    """Is one link.

    Attributes:
        to: the operation that it leads to.
        given: the expression of each of its parameters.
        says: what it leads to, in words.
    """

    to: str
    given: Mapping[str, str]
    says: str


_OF_ITEM: Final = (
    "read-item", "read-item-next", "read-item-entries", "contaminate", "do-step", "start-dwell", "place-hold",
    "release", "read-item-custody", "put-away",
)  # fmt: skip
_MADE: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "commission": ("item", _OF_ITEM),
    "assemble": ("item", ("read-assembly", "swap-part", "issue-item", "put-on")),
    "open-place": ("place", ("read-place-standing", "read-place-items", "read-place", "seal-cabinet")),
    "make-solution": ("solution", ("read-solution", "test-solution", "top-up-solution", "end-solution")),
    "receive-lot": ("lot", ("read-lot", "use-lot", "count-lot", "recall-lot")),
    "open-load": ("load", ("read-load", "add-to-load", "remove-from-load", "start-load", "end-load", "unload-load")),
    "preview-recall": ("recall", ("read-recall", "commit-recall", "close-recall")),
    "enter-form": ("form", ("read-form", "enter-line")),
    "site-opened": ("site", ("read-site",)),
    "person-registered": ("person", ("read-person", "set-pin", "unlock-sign-in")),
    "instrument-registered": ("instrument", ("read-instrument", "instrument-faulty")),
    "issue-token": ("token", ("withdraw-token",)),
    "make-subscription": (
        "subscription", ("change-subscription", "rekey-subscription", "replay-subscription", "end-subscription"),
    ),
}  # fmt: skip
"""What makes a thing: the member of its body that names the thing, and what may be asked of that thing next."""
_LISTED: Final[Mapping[str, tuple[str, str, tuple[str, ...]]]] = {
    "read-items": ("items/0/item", "item", _OF_ITEM),
    "read-places": ("places/0/place", "place", ("read-place-standing", "read-place")),
    "read-solutions": ("solutions/0/solution", "solution", ("read-solution", "test-solution")),
    "read-lots": ("lots/0/lot", "lot", ("read-lot", "use-lot")),
    "read-loads": ("loads/0/load", "load", ("read-load", "end-load")),
    "read-assemblies": ("assemblies/0/item", "item", ("read-assembly",)),
    "read-instruments": ("instruments/0/instrument", "instrument", ("read-instrument",)),
    "read-stations": ("stations/0/station", "station", ("read-station",)),
    "list-sites": ("sites/0/site", "site", ("read-site",)),
    "list-people": ("people/0/person", "person", ("read-person",)),
    "list-wearers": ("wearers/0/wearer", "wearer", ("read-wearer",)),
    "list-recalls": ("recalls/0/recall", "recall", ("read-recall",)),
    "list-cases": ("cases/0/case", "case", ("read-case-brief", "act-on-case")),
    "list-forms": ("forms/0/form", "form", ("read-form",)),
    "list-subscriptions": ("0/subscription", "subscription", ("replay-subscription",)),
    "list-tokens": ("0/token", "token", ("withdraw-token",)),
    "read-entries": ("next_after", "feed", ("read-entry",)),
    "keep-file": ("digest", "digest", ("read-kept-file",)),
    "read-catalogue": ("0/kind", "kind", ("read-kind",)),
}
"""What tells of things: where in its answer the first one's name stands, and what may be asked of it next."""
_VERSIONED: Final[Mapping[str, tuple[str, tuple[str, ...]]]] = {
    "read-person": (
        "person",
        ("badge-given", "badge-withdrawn", "competency-granted", "competency-withdrawn", "person-left"),
    ),
    "read-instrument": ("instrument", ("instrument-verified",)),
}
"""What is read with its version: the change that follows names that version."""


def _links() -> dict[str, tuple[Leads, ...]]:
    found: dict[str, tuple[Leads, ...]] = {}
    for name, (member, to) in _MADE.items():
        says = f"What was made by that `{member}`."
        found[name] = tuple(Leads(one, {member: f"$request.body#/{member}"}, says) for one in to)
    for name, (pointer, parameter, to) in _LISTED.items():
        says = f"The first `{parameter}` that is told."
        found[name] = tuple(Leads(one, {parameter: f"$response.body#/{pointer}"}, says) for one in to)
    for name, (parameter, to) in _VERSIONED.items():
        given = {parameter: f"$request.path.{parameter}", "If-Match": "$response.header.ETag"}
        found[name] = tuple(Leads(one, given, "A change of the version that was read.") for one in to)
    return found


LINKS: Final[Mapping[str, tuple[Leads, ...]]] = MappingProxyType(_links())
"""Every link, by the operation whose answer it starts from."""
