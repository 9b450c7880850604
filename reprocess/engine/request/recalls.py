"""Recalls: shown first, then committed, closed once everything is located; and putting a held item in quarantine."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class PreviewRecall(Further):
    """Asks what a recall would hold; nothing is held by it (H03).

    Attributes:
        sort: lot, serial, model, workflow, solution, load, person, instrument, place, wearer, assembly; or `items`.
        name: which one: the lot's number, the bath's id, the person's; a workflow by the digest of its text.
        from_us: only what touched it at or after that instant.
        until_us: only what touched it at or before that instant.
        items: the list itself, where `sort` is `items`.
        cause: why, as the hold will say.
        notice: the reference of a field notice (H12).
    """

    asked: ClassVar[str] = "preview-recall"
    recall: str
    sort: str
    name: str
    cause: str
    owner: str = "programme-administrator"
    from_us: int | None = None
    until_us: int | None = None
    items: tuple[str, ...] = ()
    notice: str | None = None


@dataclass(frozen=True, slots=True)
class CommitRecall(Further):
    """Asks to hold everything on the latest preview of a recall (H03).

    `total` is the number of items, typed on purpose where a recall reaches everything on record.
    """

    asked: ClassVar[str] = "commit-recall"
    recall: str
    total: int | None = None


@dataclass(frozen=True, slots=True)
class CloseRecall(Further):
    """Asks to close a recall: every item located, or condemned as lost by two people (H09)."""

    asked: ClassVar[str] = "close-recall"
    recall: str
    note: str


@dataclass(frozen=True, slots=True)
class PutInQuarantine(Further):
    """States that a held item lies in a quarantine place; never refused (H01, H04)."""

    asked: ClassVar[str] = "put-in-quarantine"
    item: str
    place: str
