"""The words of the department as types: stages, streams, ids, instants.

Instants are whole microseconds since 1970-01-01T00:00:00Z. Local time exists only on screens.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import NewType

ItemId = NewType("ItemId", str)
PersonId = NewType("PersonId", str)
StationId = NewType("StationId", str)
SiteId = NewType("SiteId", str)
SolutionId = NewType("SolutionId", str)
InstrumentId = NewType("InstrumentId", str)
StepName = NewType("StepName", str)
Digest = NewType("Digest", str)
InstantUs = NewType("InstantUs", int)
StreamName = NewType("StreamName", str)

SECOND_US = 1_000_000
DAY_S = 86_400
LAST_US = 253_370_764_800_000_000
"""The first instant of the year 9999; anything later is shown as that."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Stage(StrEnum):
    """Lists the stages of an item; a workflow names the ones it has, in this order."""

    USED = "used"
    CLEANED = "cleaned"
    DISINFECTED = "disinfected"
    DRIED = "dried"
    INSPECTED = "inspected"
    READY = "ready"
    IN_REPAIR = "in repair"
    CONDEMNED = "condemned"
    LOST = "lost"


SPINE: tuple[Stage, ...] = (
    Stage.USED,
    Stage.CLEANED,
    Stage.DISINFECTED,
    Stage.DRIED,
    Stage.INSPECTED,
    Stage.READY,
)
"""The stages a cycle climbs, in order."""

ASIDE: tuple[Stage, ...] = (Stage.IN_REPAIR, Stage.CONDEMNED, Stage.LOST)
"""The stages beside the cycle."""


class StreamKind(StrEnum):
    """Lists what has a history of its own; a stream's name is `kind:id`."""

    ITEM = "item"
    SOLUTION = "solution"
    LOT = "lot"
    LOAD = "load"
    INSTRUMENT = "instrument"
    PERSON = "person"
    STATION = "station"
    WORKFLOW = "workflow"
    SITE = "site"
    PLACE = "place"
    WEARER = "wearer"
    RECALL = "recall"
    CASE = "case"
    FORM = "form"
    CONSENT = "consent"
    ACCESS = "access"
    TOKEN = "token"  # noqa: S105 - the kind of a stream
    SUBSCRIPTION = "subscription"
    KEY = "key"


def stream(kind: StreamKind, subject: str) -> StreamName:
    """Returns the name of a subject's stream, such as `item:BLW-0041`."""
    return StreamName(f"{kind}:{subject}")


def subject_of(name: str) -> str:
    """Returns the id inside a stream's name: `BLW-0041` for `item:BLW-0041`."""
    return name.partition(":")[2]


def instant(when: datetime) -> InstantUs:
    """Returns an aware datetime as whole microseconds since the epoch.

    Raises:
        ValueError: the datetime has no offset; a time without one is never guessed at.
    """
    if when.utcoffset() is None:
        message = f"{when.isoformat()} has no offset from UTC"
        raise ValueError(message)
    return InstantUs((when - _EPOCH) // timedelta(microseconds=1))


def as_datetime(when_us: int) -> datetime:
    """Returns an instant as an aware datetime in UTC."""
    return _EPOCH + timedelta(microseconds=min(when_us, LAST_US))


def as_text(when_us: int) -> str:
    """Returns an instant as RFC 3339 in UTC to the second, such as `2026-03-05T07:05:00Z`."""
    return as_datetime(when_us).strftime("%Y-%m-%dT%H:%M:%SZ")
