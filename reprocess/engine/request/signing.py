"""A second person's consent at another station, and the review of what was unusual."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class Consent(Further):
    """Asks to keep that the person at this station agrees to one request about one subject (S08, E36).

    Attributes:
        subject: a stream, such as `item:KIT-7`.
        to: the kind of request, such as lift-hold, or `override`.
        about: which step, hold, entry or rule; None where the request has no such detail.
    """

    asked: ClassVar[str] = "consent"
    subject: str
    to: str
    about: str | None = None


@dataclass(frozen=True, slots=True)
class ReviewEntry(Further):
    """Asks to keep that an unusual entry was looked at, and what was found (D14)."""

    asked: ClassVar[str] = "review-entry"
    feed: int
    finding: str


@dataclass(frozen=True, slots=True)
class ReviewRefusals(Further):
    """Asks to keep that the refusals up to an entry of the record were looked at (D14)."""

    asked: ClassVar[str] = "review-refusals"
    until_feed: int
    finding: str
