"""Who has an item: issued to a wearer, returned, lent, moved, missing."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Answers, Body, Counts, Readings, Texts


class ItemIssued(Body):
    """Says that an item is with a wearer from now on, where, what for, and of which parts it was then made (U01).

    `wearer` is a pseudonym; None where nobody was identified yet, such as from an emergency cabinet.
    """

    kind: ClassVar[str] = "item-issued"
    cycle: int
    wearer: str | None
    place: str
    purpose: str
    expected_us: int | None = None
    members: dict[str, str] = {}
    counts: Counts = {}
    configuration: str | None = None
    checks: Answers = {}
    readings: Readings = {}
    instrument: str | None = None
    warned: Texts = ()


class ItemReturned(Body):
    """Says that an item came back from whoever had it, where, and what was missing or seen on it (U07, U11)."""

    kind: ClassVar[str] = "item-returned"
    place: str
    wearer: str | None = None
    missing: Texts = ()
    contamination_class: str = "routine"
    soiled: bool = False
    used: bool = True
    fault: str | None = None
