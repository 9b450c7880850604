"""Who has an item: issued to a wearer, returned, lent, moved, missing."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Answers, Body, Counts, Readings, Texts


class ItemIssued(Body):
    """Says that an item is with a wearer from now on, where, what for, and of which parts it was then made (U01).

    `wearer` is a pseudonym; None where nobody was identified yet, such as from an emergency cabinet.
    """

    kind: ClassVar[str] = "item-issued"
    cycle: int
    wearer: str | None = None
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
    """Says that an item came back from whoever had it, where, and what was missing or seen on it (U07, U11).

    `parts` are those that were scanned, absent where nobody looked; `gap` says that nothing was on record of its being
    out (P07); `incident` is the reference of an incident report (E29).
    """

    kind: ClassVar[str] = "item-returned"
    place: str
    wearer: str | None = None
    missing: Texts = ()
    contamination_class: str = "routine"
    soiled: bool = False
    used: bool = True
    fault: str | None = None
    parts: Texts | None = None
    gap: Literal[True] | None = None
    incident: str | None = None


class WearerIdentified(Body):
    """Names the wearer of an issue to nobody on record; `number` is the entry of that issue (U01)."""

    kind: ClassVar[str] = "wearer-identified"
    number: int
    wearer: str


class WornAgain(Body):
    """Says that the same wearer takes a break within one shift and will put the item on again (U06)."""

    kind: ClassVar[str] = "worn-again"
    wearer: str | None = None


class PartKept(Body):
    """Says that a part stays with whoever had the whole: it did not come back, or was changed in use (U11, U12)."""

    kind: ClassVar[str] = "part-kept"
    whole: str
    wearer: str | None = None
    place: str
    cause: Literal["missing", "swapped"]


class ItemLent(Body):
    """Says that an item is outside the network until a day, and with whom (U14)."""

    kind: ClassVar[str] = "item-lent"
    cycle: int
    to: str
    due_us: int
    members: dict[str, str] = {}
    counts: Counts = {}


class ItemSent(Body):
    """Says that an item left for another site, in which closed container, and whether that was clean (E15, P11)."""

    kind: ClassVar[str] = "item-sent"
    to: str
    clean: bool
    container: str | None = None


class ItemReceived(Body):
    """Says that an item arrived at a site, to which it belongs from now on (C12)."""

    kind: ClassVar[str] = "item-received"
    site: str
    came_from: str
    intact: bool


class ItemDedicated(Body):
    """Says that an item serves one place or one wearer only; neither of them ends that (C07, C11)."""

    kind: ClassVar[str] = "item-dedicated"
    place: str | None = None
    wearer: str | None = None
