"""Places: stores, cabinets, quarantine, drying slots, drop points and water points, and what lies in them."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from reprocess.record.words.body import Body, Texts

PlaceSort = Literal["store", "cabinet", "quarantine", "drying", "drop-point", "water-point", "ward"]


class PlaceOpened(Body):
    """Says that a place exists, of which sort and class it is, and what must hold there.

    `limits` are readings with their least and most as text, such as `{"temp_c": "5..30"}`; `asks` are the readings
    that each inspection of a unit in this cabinet records; `grade` is the quality of the water that is taken here as
    long as every reading is within its limits.
    """

    kind: ClassVar[str] = "place-opened"
    title: str
    sort: PlaceSort
    zone: Literal["clean", "dirty"]
    site: str
    par: int | None = None
    limits: dict[str, str] = {}
    seal: str | None = None
    every_months: int | None = None
    asks: Texts = ()
    grade: str | None = None


class PlaceRead(Body):
    """Keeps what a sensor of a place shows, and whether that is within its limits (Q02, L11, L14).

    `rechecked` says that the items there were held because the place was out of its limits for too long.
    """

    kind: ClassVar[str] = "place-read"
    reading: str
    value: str
    good: bool
    limit: str
    instrument: str | None = None
    rechecked: Literal[True] | None = None


class ItemPlaced(Body):
    """Says that an item lies at a place from now on."""

    kind: ClassVar[str] = "item-placed"
    place: str
    sort: PlaceSort


class ItemTakenOut(Body):
    """Says that an item was taken out of the place where it lay."""

    kind: ClassVar[str] = "item-taken-out"
    place: str


class CabinetOpened(Body):
    """Says that a cabinet's seal was broken in an emergency: which units were taken, which are still there (E28)."""

    kind: ClassVar[str] = "cabinet-opened"
    seal: str
    taken: Texts
    present: Texts


class CabinetSealed(Body):
    """Says that a cabinet was filled and closed again under a new seal."""

    kind: ClassVar[str] = "cabinet-sealed"
    seal: str
    units: Texts


class RestockAsked(Body):
    """Says that a place must be filled up, and why (Q05)."""

    kind: ClassVar[str] = "restock-asked"
    because: str
    item: str | None = None


class VapourAlarmed(Body):
    """Says that the vapour of a disinfectant is too strong at a place of this site (L14)."""

    kind: ClassVar[str] = "vapour-alarmed"
    place: str
    vapour: str
    value: str | None = None
    limit: str | None = None


class VapourCleared(Body):
    """Says that the vapour at a place is within its limits again (L14)."""

    kind: ClassVar[str] = "vapour-cleared"
    place: str
    vapour: str
    value: str = Field(min_length=1)
    limit: str
