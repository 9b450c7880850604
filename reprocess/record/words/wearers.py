"""Wearers, by pseudonym alone: who is trained, cleared and fit-tested until when, and what was done with their names.

No name, badge, contact or finding stands in any of these bodies, nor free text in which one could be written.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Texts

NameWhy = Literal["exposure", "recall", "not-returned", "eligibility", "own-request", "audit"]
"""For what somebody asks who a pseudonym is; a fixed list, so that no reason can hold a name."""
EraseWhy = Literal["own-request", "retention"]


class WearerRegistered(Body):
    """Says that somebody may be issued equipment, in which unit of which site; who it is stands in no entry."""

    kind: ClassVar[str] = "wearer-registered"
    unit: str
    site: str


class WearerTrained(Body):
    """Says until when a wearer's training counts (A09)."""

    kind: ClassVar[str] = "wearer-trained"
    until_us: int


class WearerCleared(Body):
    """Says whether a wearer may wear a respirator at all, and until when; never why (A09)."""

    kind: ClassVar[str] = "wearer-cleared"
    cleared: bool
    until_us: int | None = None


class WearerFitTested(Body):
    """Says whether one model (with its size) fits a wearer, and until when that counts (A09)."""

    kind: ClassVar[str] = "wearer-fit-tested"
    model: str
    fits: bool
    until_us: int | None = None


class WearerLeft(Body):
    """Says that a wearer is issued nothing any more."""

    kind: ClassVar[str] = "wearer-left"


class WearerNameRead(Body):
    """Says that somebody, the entry's actor, was shown whose pseudonym this is, and for what (I21)."""

    kind: ClassVar[str] = "wearer-name-read"
    why: NameWhy
    case: str | None = None


class WearerTraced(Body):
    """Says that somebody, the entry's actor, was shown everything that one wearer wore (H07)."""

    kind: ClassVar[str] = "wearer-traced"
    wearer: str


class WearerErased(Body):
    """Says that nothing tells any more whose pseudonym this is (E40)."""

    kind: ClassVar[str] = "wearer-erased"
    why: EraseWhy


class NamesPurged(Body):
    """Reports one run of the job that erases the names past their period, and by which period (D12)."""

    kind: ClassVar[str] = "names-purged"
    wearers: Texts
    years: int
    source: str
