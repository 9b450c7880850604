"""Lots: what came in, what was taken from them, which are recalled."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from reprocess.record.words.body import Body


class LotReceived(Body):
    """Says that a lot of a product came in: how much of it, until when it is good, and what its label said.

    `expiry_us` is the instant at which its last good day is over; None where its label names no day.
    """

    kind: ClassVar[str] = "lot-received"
    product: str
    sort: Literal["agent", "part", "detergent", "strips", "other"]
    site: str
    quantity: int = Field(ge=0)
    unit: str
    expiry_us: int | None = None
    reorder_at: int | None = None
    device: str | None = None
    label: str | None = None


class LotUsed(Body):
    """Says that so much of a lot was taken, and for what: the stream of a bath, a container or an item, or words."""

    kind: ClassVar[str] = "lot-used"
    quantity: int = Field(ge=0)
    used_for: str


class LotCounted(Body):
    """Says how much of a lot is really there; what was reckoned before no longer counts."""

    kind: ClassVar[str] = "lot-counted"
    left: int = Field(ge=0)


class LotRecalled(Body):
    """Says that a lot must not be used any more, and by which notice (L01, L12)."""

    kind: ClassVar[str] = "lot-recalled"
    reference: str


class LotCleared(Body):
    """Says that a recall of a lot is over, and why the lot may be used again."""

    kind: ClassVar[str] = "lot-cleared"
    disposition: str


class SolutionLotRecalled(Body):
    """Says that a lot that is in this bath or container was recalled, so that it is used no more (L01)."""

    kind: ClassVar[str] = "solution-lot-recalled"
    lot: str
    reference: str
