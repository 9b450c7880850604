"""What people sign: overrides, consents at another station, and the review of what was unusual."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body, Numbers, Texts


class OverrideUsed(Body):
    """Says that one advance went on although one rule spoke against it: for one item, one gate, once (C20).

    Attributes:
        reasons: the keys of what spoke against it.
        because: the code of the reason, from a short list.
        words: the reason in the person's own words.
        authorised: the persons whose roles allowed it.
        until_us: until when it counts, where it has an end.
        reference: a statement that it rests on: a reference, or the digest of a kept file.
        instrument: the instrument that was excused, where one was.
    """

    kind: ClassVar[str] = "override-used"
    rule: str
    asked: str
    reasons: Texts
    because: str
    words: str
    authorised: Texts
    step: str | None = None
    until_us: int | None = None
    reference: str | None = None
    instrument: str | None = None


class OverridesMany(Body):
    """Says that one rule was overridden so often within a week that somebody must look at why (C20)."""

    kind: ClassVar[str] = "overrides-many"
    rule: str
    times: int
    days: int


class ConsentGiven(Body):
    """Says that a second person agrees, by their own badge at their own station, to one request about one subject.

    Attributes:
        to: the kind of request, such as lift-hold; `override` for an override.
        about: which step, hold, entry or rule it is about; None where the request has no such detail.
        shown: digest of what was shown when they agreed.
    """

    kind: ClassVar[str] = "consent-given"
    to: str
    about: str | None = None
    shown: str


class ConsentUsed(Body):
    """Says that consents served as second person of one request; they serve no other one."""

    kind: ClassVar[str] = "consent-used"
    numbers: Numbers


class EntryReviewed(Body):
    """Says that somebody looked at an unusual entry, what it means to them, and what exactly was shown to them.

    Attributes:
        feed: the entry's number in the whole record.
    """

    kind: ClassVar[str] = "entry-reviewed"
    feed: int
    meaning: str
    finding: str
    shown: str


class RefusalsReviewed(Body):
    """Says that somebody looked at what was refused, up to an entry of the whole record."""

    kind: ClassVar[str] = "refusals-reviewed"
    until_feed: int
    finding: str
