"""The reminders of a lot: more is to be ordered (L13), it soon expires or has expired (L01)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from reprocess.record.lots import Lot
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream
from reprocess.timetable.due import AHEAD, SOON, Due, Words, key_of

DAYS_AHEAD: Final = 30
"""Days before a lot's last day on which it is brought to mind (our choice, site parameter)."""


def for_lot(lot: Lot, alike: Iterable[Lot]) -> tuple[Due, ...]:
    """Returns every reminder that a lot calls for; one that is used up or recalled calls for none of its own.

    What is to be ordered is said once a product: by the lot that came in last.

    Args:
        lot: where the lot stands.
        alike: every lot of the same product at the same site, this one among them.
    """
    found = _of_expiry(lot) if lot.left > 0 and lot.recalled is None else []
    return (*found, *_of_stock(lot, tuple(alike)))


def _due(lot: Lot, rule: str, cause: tuple[str, str], due_us: int, severity: int, words: Words) -> Due:
    subject = stream(StreamKind.LOT, lot.lot)
    held: Words = {"site": lot.site, "lot": lot.lot, "product": lot.product}
    return Due(key_of(rule, subject, *cause), subject, rule, due_us, severity, held | words)


def _of_expiry(lot: Lot) -> list[Due]:
    if lot.expiry_us is None:
        return []
    cause = f"until-{lot.expiry_us}"
    over = _due(lot, "L01", (cause, "over"), lot.expiry_us, SOON, {"say": "lot-over"})
    near_us = lot.expiry_us - DAYS_AHEAD * DAY_S * SECOND_US
    if near_us <= lot.received_us:
        return [over]
    return [_due(lot, "L01", (cause, "near"), near_us, AHEAD, {"say": "lot-near", "at_us": lot.expiry_us}), over]


def _of_stock(lot: Lot, alike: tuple[Lot, ...]) -> list[Due]:
    changed_us = max((one.changed_us for one in alike), default=lot.changed_us)
    last = max(alike, key=lambda one: (one.received_us, one.lot), default=lot)
    if last.lot != lot.lot or lot.reorder_at is None:
        return []
    left = sum(one.left for one in alike if one.good(changed_us))
    if left > lot.reorder_at:
        return []
    # A new delivery makes a new cause; until then it is said once.
    cause = f"delivery-{sum(one.deliveries for one in alike)}"
    words: Words = {"say": "stock-low", "left": left, "unit": lot.unit}
    return [_due(lot, "L13", (cause, "low"), changed_us, SOON, words)]
