"""Lots: what came in, what was taken, what was counted, what must not be used any more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class ReceiveLot(Further):
    """States that a lot came in, as its papers or its label say.

    Attributes:
        sort: agent, part, detergent, strips or other; that of the lots on record with the same device where absent.
        expiry_us: when its last good day is over; None where its label names no day.
        reorder_at: more is ordered when all lots of the product hold no more than this.
        device: what the maker's label calls the model.
        label: the label as it was scanned.
    """

    asked: ClassVar[str] = "receive-lot"
    lot: str
    quantity: int
    product: str | None = None
    sort: str | None = None
    unit: str | None = None
    expiry_us: int | None = None
    reorder_at: int | None = None
    device: str | None = None
    label: str | None = None


@dataclass(frozen=True, slots=True)
class UseLot(Further):
    """States that so much of a lot was taken, and what for."""

    asked: ClassVar[str] = "use-lot"
    lot: str
    quantity: int
    used_for: str


@dataclass(frozen=True, slots=True)
class CountLot(Further):
    """States how much of a lot was counted."""

    asked: ClassVar[str] = "count-lot"
    lot: str
    left: int


@dataclass(frozen=True, slots=True)
class RecallLot(Further):
    """States that a notice says a lot must not be used; never refused."""

    asked: ClassVar[str] = "recall-lot"
    lot: str
    reference: str


@dataclass(frozen=True, slots=True)
class ClearLot(Further):
    """Asks to let a recalled lot be used again; two people, one of them with the role (H10)."""

    asked: ClassVar[str] = "clear-lot"
    lot: str
    disposition: str
