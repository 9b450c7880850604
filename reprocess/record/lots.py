"""The standing of a lot: what is left of it and whether it may be used."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Lot:
    """Is a lot of a product as it lies at a site.

    Attributes:
        product: the agent, the model of a part, or whatever else it is a lot of.
        sort: agent, part, detergent, strips or other.
        expiry_us: when its last good day is over; the earliest that any delivery named; None where none did.
        left: how much is left, as far as the record knows; never below nothing.
        reorder_at: more is ordered when all lots of the product together hold no more than this.
        device: what the maker's label calls the model, so that its next label is understood.
        deliveries: how often it came in.
        recalled: the notice by which it is recalled, or None.
        changed_us: when its latest entry was recorded.
    """

    lot: str
    product: str = ""
    sort: str = ""
    site: str = ""
    unit: str = ""
    expiry_us: int | None = None
    left: int = 0
    used: int = 0
    reorder_at: int | None = None
    device: str | None = None
    received_us: int = 0
    deliveries: int = 0
    recalled: str | None = None
    changed_us: int = 0
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether it was ever received."""
        return self.deliveries > 0

    def good(self, at_us: int) -> bool:
        """Tells whether it may be used at an instant: in date and not recalled; at its expiry it is over."""
        return self.known and self.recalled is None and (self.expiry_us is None or self.expiry_us > at_us)


def apply(lot: Lot, entry: Entry) -> Lot:
    """Returns the lot after one more entry of its stream."""
    body = entry.body
    after = replace(lot, lot=subject_of(entry.stream), number=entry.number, changed_us=entry.at_us)
    match body:
        case words.LotReceived():
            return _received(after, body, entry.at_us)
        case words.LotUsed():
            return replace(after, left=max(0, lot.left - body.quantity), used=lot.used + body.quantity)
        case words.LotCounted():
            return replace(after, left=body.left)
        case words.LotRecalled():
            return replace(after, recalled=body.reference)
        case words.LotCleared():
            return replace(after, recalled=None)
        case _:
            return after


def _received(lot: Lot, body: words.LotReceived, at_us: int) -> Lot:
    ends = [one for one in (lot.expiry_us, body.expiry_us) if one is not None]
    return replace(
        lot,
        product=body.product,
        sort=body.sort,
        site=body.site,
        unit=body.unit,
        expiry_us=min(ends, default=None),
        left=lot.left + body.quantity,
        reorder_at=body.reorder_at if body.reorder_at is not None else lot.reorder_at,
        device=body.device or lot.device,
        received_us=at_us,
        deliveries=lot.deliveries + 1,
    )
