"""What is due when, computed from a standing and its workflow; pure, replaced whole per subject at every append."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Due:
    """Is one reminder that a standing calls for.

    Attributes:
        key: rule, subject and cycle or local date, so that it can be given only once.
        subject: the stream it is about.
        due_us: when it rings.
        severity: 0 is the gravest; missed reminders ring in this order.
        words: what the sentence needs.
    """

    key: str
    subject: str
    rule: str
    due_us: int
    severity: int
    words: dict[str, str | int]
