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
    """Says that a reminder was given, once, and how late.

    Attributes:
        within: the key of the reminder of the same cause that was given in its place, where one sound stood for both.
    """

    kind: ClassVar[str] = "reminder-rang"
    key: str
    rule: str
    subject: str
    due_us: int
    late_s: int = Field(ge=0)
    within: str | None = None


class ReminderSeen(Body):
    """Says that somebody acknowledged a reminder."""

    kind: ClassVar[str] = "reminder-seen"
    key: str


class ReminderEscalated(Body):
    """Says that nobody acknowledged a reminder in time, and who is told next.

    Attributes:
        level: how far up its chain; absent for the first level.
    """

    kind: ClassVar[str] = "reminder-escalated"
    key: str
    rule: str
    subject: str
    to_role: str
    due_us: int
    level: int | None = None


class ReminderDelivered(Body):
    """Says that a channel outside took a reminder: e-mail or a webhook, once however often it was tried.

    Attributes:
        level: how far up its chain the reminder was; 0 when it rang.
    """

    kind: ClassVar[str] = "reminder-delivered"
    key: str
    channel: str
    level: int = Field(ge=0)
    attempts: int = Field(gt=0)


class ReminderUndelivered(Body):
    """Says that a channel outside did not take a reminder, and that it is tried no more.

    Attributes:
        because: what kept it back at the last try, as a word of ours.
    """

    kind: ClassVar[str] = "reminder-undelivered"
    key: str
    channel: str
    level: int = Field(ge=0)
    attempts: int = Field(gt=0)
    because: str
