"""What stations keep: what was refused, what was not known, what rang."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from reprocess.record.words.body import Body, Texts


class AdvanceRefused(Body):
    """Keeps a refused attempt in the station's stream: what was asked and under which rules it was refused.

    The sentences that were shown stand in the entry's answer.
    """

    kind: ClassVar[str] = "advance-refused"
    subject: str
    asked: str
    step: str | None = None
    verdict: Literal["refused", "held"]
    rules: Texts


class UnknownScanned(Body):
    """Keeps a scan that named nothing on record, shortened to printable text."""

    kind: ClassVar[str] = "unknown-scanned"
    shown: str
    because: str


class FactNoted(Body):
    """Keeps a fact that moves nothing: about an id that is not on record, or about a condemned item."""

    kind: ClassVar[str] = "fact-noted"
    subject: str
    asked: str
    words: dict[str, str] = {}


class ReminderRang(Body):
    """Says that a reminder was given, once, and how late."""

    kind: ClassVar[str] = "reminder-rang"
    key: str
    rule: str
    subject: str
    due_us: int
    late_s: int = Field(ge=0)


class ReminderSeen(Body):
    """Says that somebody acknowledged a reminder."""

    kind: ClassVar[str] = "reminder-seen"
    key: str


class ReminderEscalated(Body):
    """Says that nobody acknowledged a reminder in time, and who is told next."""

    kind: ClassVar[str] = "reminder-escalated"
    key: str
    rule: str
    subject: str
    to_role: str
    due_us: int
