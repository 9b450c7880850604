"""Exposure cases: who wore what should not have been ready."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.record.words.body import Body, Texts


@dataclass(frozen=True, slots=True)
class ExposedUse:
    """Is one use of an item in a cycle that is in doubt: by whom (a pseudonym), where, from when to when."""

    item: str
    cycle: int
    whole: str
    wearer: str
    from_us: int
    place: str | None = None
    until_us: int | None = None


class CaseOpened(Body):
    """Says that items in doubt were worn, and by whom; other people decide what follows (H06, H07)."""

    kind: ClassVar[str] = "case-opened"
    rule: str
    cause: str
    items: Texts
    uses: tuple[ExposedUse, ...]
