"""Recalls: previewed, committed, closed."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body, Counts, Texts


class RecallPreviewed(Body):
    """Says what a recall would hold, as it was shown before anybody decided (H03).

    `items` is the exact list, sorted, and `digest` that of the list; the counts say how many stand where.
    `sort` is what is recalled by, such as lot; it is `items` where the list itself was given.
    """

    kind: ClassVar[str] = "recall-previewed"
    sort: str
    name: str
    cause: str
    owner: str
    from_us: int | None = None
    until_us: int | None = None
    notice: str | None = None
    items: Texts
    digest: str
    stages: Counts = {}
    custody: Counts = {}
    places: Counts = {}
    wearers: int = 0


class RecallCommitted(Body):
    """Says that everything on the previewed list is held from now on, and is to be located (H03, H09)."""

    kind: ClassVar[str] = "recall-committed"
    digest: str
    held: Texts
    case: str | None = None


class RecallClosed(Body):
    """Says that every item of the recall was located, or condemned as lost by two people (H09)."""

    kind: ClassVar[str] = "recall-closed"
    total: int
    located: int
    note: str
