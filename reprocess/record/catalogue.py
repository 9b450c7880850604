"""Every kind and version of entry as those outside see it: its family, its topic, its event type and its JSON Schema.

A kind that is added needs no line here: its family is the module of its words, its event type is the noun and the
past participle that its name is made of. What reads otherwise outside stands in `_TYPES`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Final, Literal

from reprocess.record import words
from reprocess.record.words import BODIES, Body

Topic = Literal["open", "wearers", "cases", "security"]
"""Who may see it: `open` to whoever reads the feed at all, the others only with the right that they ask for."""
SCOPE_OF: Final[Mapping[Topic, str | None]] = MappingProxyType(
    {"open": None, "wearers": "wearers:read", "security": "people:read", "cases": None}
)
"""The scope with which a token sees a topic; exposure cases no token ever sees (D10, D13)."""
SCOPES: Final = ("wearers:read", "people:read")
"""The scopes that open more than the open topic, in the order in which they are told."""
SCHEMA: Final = "https://json-schema.org/draft/2020-12/schema"
"""JSON Schema, draft 2020-12 (section 8.1.1, "$schema")."""

_TOPICS: Final[Mapping[str, Topic]] = MappingProxyType({"wearers": "wearers", "cases": "cases", "access": "security"})
"""The topic of the families that are not open."""
_SECURITY: Final = frozenset(
    {
        words.BadgeDoubted.kind,
        words.BadgeGiven.kind,
        words.BadgeWithdrawn.kind,
        words.PersonLeft.kind,
        words.PersonRegistered.kind,
        words.UnknownScanned.kind,
    }
)
"""What holds a badge or the name of somebody who works here, or may hold one."""
_TYPES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "advance-refused": "step.refused",
        "assembly-built": "kit.assembled",
        "assembly-dissolved": "kit.dissolved",
        "case-acted": "exposure.acted-on",
        "case-closed": "exposure.closed",
        "case-decided": "exposure.decided",
        "case-graded": "exposure.graded",
        "case-listed": "exposure.listed",
        "case-opened": "exposure.opened",
        "case-read": "exposure.read",
        "case-report-settled": "exposure.report-settled",
        "case-told": "exposure.told",
        "clock-anomaly": "clock.doubted",
        "dwell-broken": "contact.broken",
        "dwell-ended": "contact.met",
        "dwell-started": "contact.started",
        "dwell-wetted": "contact.rewetted",
        "entry-corrected": "record.corrected",
        "entry-reviewed": "record.reviewed",
        "entry-undone": "record.undone",
        "held-sighted": "hold.sighted",
        "instrument-faulty": "instrument.failed",
        "member-joined": "kit.joined",
        "member-left": "kit.left",
        "names-purged": "wearer.names-purged",
        "overrides-many": "override.repeated",
        "quiet-hours-set": "quiet-hours.set",
        "recall-committed": "recall.created",
        "refusals-reviewed": "refusal.reviewed",
        "reminder-rang": "reminder.given",
        "reminder-seen": "reminder.acknowledged",
        "restock-asked": "stock.requested",
        "solution-made": "solution.prepared",
        "sources-confirmed": "policy.sources-confirmed",
        "step-done": "step.completed",
        "steps-fell": "step.voided",
        "unknown-scanned": "code.unrecognised",
        "wear-signalled": "wearing.signalled",
        "wear-step-done": "wearing.step-completed",
        "workflow-approved": "policy.approved",
        "workflow-published": "policy.published",
        "worn-again": "item.worn-again",
    }
)


@dataclass(frozen=True, slots=True)
class Kind:
    """Is one kind and version of entry.

    Attributes:
        family: the module of its words, such as `loads`.
        type: the event type under which it is known outside, such as `item.released`.
        says: what an entry of it says, in one sentence or two.
    """

    kind: str
    version: int
    family: str
    topic: Topic
    type: str
    says: str

    @property
    def schema(self) -> dict[str, Any]:
        """Returns the JSON Schema of its body."""
        return _schema(self.kind, self.version)


def kind_of(body: Body) -> Kind:
    """Returns what the catalogue says of a body's kind."""
    return ALL[body.kind, body.version]


def topic_of(stream: str, kind: Kind) -> Topic:
    """Returns who may see an entry: a wearer's or a case's own stream is theirs, whatever is said in it."""
    owner = stream.partition(":")[0]
    if owner == "case":
        return "cases"
    return "wearers" if owner == "wearer" and kind.topic == "open" else kind.topic


def _kind(model: type[Body]) -> Kind:
    family = model.__module__.rpartition(".")[2]
    topic = "security" if model.kind in _SECURITY else _TOPICS.get(family, "open")
    noun, _, happened = model.kind.partition("-")
    says = " ".join((model.__doc__ or "").partition("Attributes:")[0].split())
    return Kind(model.kind, model.version, family, topic, _TYPES.get(model.kind, f"{noun}.{happened}"), says)


@cache
def _schema(kind: str, version: int) -> dict[str, Any]:
    made = BODIES[kind, version].model_json_schema()
    return {"$schema": SCHEMA, "$id": f"urn:reprocess:entry:{kind}:{version}", **made}


ALL: Final[Mapping[tuple[str, int], Kind]] = MappingProxyType({key: _kind(BODIES[key]) for key in sorted(BODIES)})
"""The catalogue, by kind and version."""
KINDS: Final = frozenset(kind for kind, _ in ALL)
"""Every word for what can have happened."""
