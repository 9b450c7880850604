"""What happens to an item beside its cycle."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Readings, Texts


class ItemSentToRepair(Body):
    """Says that the item left the cycle for repair.

    `statement` says which portions are still contaminated, for whoever opens it (29 CFR 1910.1030(d)(2)(xiv)).
    """

    kind: ClassVar[str] = "item-sent-to-repair"
    fault: str
    statement: str | None = None


class ItemRepaired(Body):
    """Says that a repair is done: what was done, from which lots parts were fitted, how it was tested, who brought it.

    `lots` is part to lot. The item stays contaminated until a whole cycle is done (P02).
    """

    kind: ClassVar[str] = "item-repaired"
    work: str
    test: str
    passed: bool
    returned_by: str
    lots: dict[str, str] = {}


class ItemCondemned(Body):
    """Says that the item is out of service for ever, under which serial number, and where its waste goes."""

    kind: ClassVar[str] = "item-condemned"
    reason: str
    defects: Texts = ()
    serial: str | None = None
    waste: Literal["general", "regulated", "battery", "electrical", "recycled"] | None = None


class ItemLost(Body):
    """Says that the item cannot be found."""

    kind: ClassVar[str] = "item-lost"
    note: str


class ItemSplit(Body):
    """Says that part of a counted batch went into another batch, or came from it, as a negative quantity.

    What comes brings its age and its wear: the batch it joins is as old as the oldest of its parts (T12).
    """

    kind: ClassVar[str] = "item-split"
    other: str
    quantity: int
    in_service_us: int | None = None
    opened_us: int | None = None
    sealed_expiry_us: int | None = None
    cycles_done: int | None = None


class ItemOpened(Body):
    """Says that a sealed item was opened, so that its opened-on limit runs."""

    kind: ClassVar[str] = "item-opened"
    note: str | None = None


class ItemWorked(Body):
    """Adds to the counters of an item: charge cycles and hours of use."""

    kind: ClassVar[str] = "item-worked"
    charge_cycles: int = 0
    minutes: int = 0


class ItemInspectedInStore(Body):
    """Says that an item in store was inspected again; the next date keeps the anchored day (Q03)."""

    kind: ClassVar[str] = "item-inspected-in-store"
    findings: str
    action: str
    passed: bool
    anchor_day: int
    place: str | None = None
    seal: str | None = None
    readings: Readings | None = None
