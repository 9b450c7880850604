"""Which lot may be used, and which one first: L01, L08, L09, L10, L12, L13."""

from __future__ import annotations

from collections.abc import Iterable

from reprocess.record.lots import Lot
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

CLEAR_ROLES = ("programme-administrator", "supervisor")
"""Who lets a recalled lot be used again: the roles that lift the hold of a recall (H10)."""
NEVER_US = 2**62
"""Where a lot without a day stands when lots are put in the order of their days."""


def named(scene: Scene, name: str | None) -> Lot | None:
    """Returns the lot of that name where it is on record; nobody must keep lots to work."""
    found = scene.states.get(stream(StreamKind.LOT, name or ""))
    return found if isinstance(found, Lot) and found.known else None


def over(scene: Scene, name: str) -> bool:
    """Tells whether a lot is out of date by its own record, which then also names the lot to take."""
    lot = named(scene, name)
    return lot is not None and lot.expiry_us is not None and lot.expiry_us <= scene.bench.now_us


def off_record(scene: Scene, name: str) -> list[Reason]:
    """Returns why a lot that never came in may not be used: it was recalled all the same (L12)."""
    found = scene.states.get(stream(StreamKind.LOT, name))
    if not isinstance(found, Lot) or found.known or found.recalled is None:
        return []
    return [Reason("L12", "lot-recalled", {"lot": name, "because": found.recalled, "next": "none"})]


def of_product(scene: Scene, product: str) -> list[Lot]:
    """Returns every lot of a product at the bench's site, whatever is left of it."""
    lots = (one for one in scene.states.values() if isinstance(one, Lot) and one.known)
    return [one for one in lots if one.product == product and one.site == scene.bench.site.site]


def first_to_use(lots: Iterable[Lot], now_us: int) -> Lot | None:
    """Returns the lot that is to be used first: of those that are good and not used up the first to expire (L01)."""
    good = [one for one in lots if one.good(now_us) and one.left > 0]
    return min(good, key=lambda one: (_ends_us(one), one.received_us, one.lot), default=None)


def _ends_us(lot: Lot) -> int:
    return lot.expiry_us if lot.expiry_us is not None else NEVER_US


def barred(scene: Scene, lot: Lot, rule: str = "L01", product: str | None = None) -> list[Reason]:
    """Returns why a lot on record may not be used: another product, recalled, out of date; with the lot to take."""
    now_us = scene.bench.now_us
    wanted = product if product is not None else lot.product
    first = first_to_use(of_product(scene, wanted), now_us)
    facts: dict[str, Fact] = {"lot": lot.lot, "next": first.lot if first is not None else "none"}
    reasons = []
    if lot.product != wanted:
        reasons.append(Reason(rule, "lot-other", {**facts, "product": lot.product, "wanted": wanted}))
    if lot.recalled is not None:
        reasons.append(Reason("L12" if rule == "L01" else rule, "lot-recalled", {**facts, "because": lot.recalled}))
    if lot.expiry_us is not None and lot.expiry_us <= now_us:
        key = "lot-expired" if first is None else "lot-over"
        reasons.append(Reason(rule, key, {**facts, "at_us": lot.expiry_us}))
    return reasons


def told(scene: Scene, lot: Lot, rule: str = "L01", taken: int = 1) -> list[Reason]:
    """Returns what is told of a lot that may be used: another one expires first, or the record has none left of it."""
    facts: dict[str, Fact] = {"lot": lot.lot, "left": lot.left}
    told = []
    first = first_to_use((one for one in of_product(scene, lot.product) if one.lot != lot.lot), scene.bench.now_us)
    if first is not None and _ends_us(first) < _ends_us(lot):
        told.append(Reason(rule, "lot-later", {**facts, "next": first.lot, "at_us": _ends_us(first)}))
    if lot.left < taken:
        told.append(Reason("L13", "lot-short", facts))
    return told


def unknown(scene: Scene, name: str, product: str, rule: str = "L01") -> list[Reason]:
    """Returns what is told of a lot that is not on record where lots of its product are kept."""
    kept = of_product(scene, product)
    first = first_to_use(kept, scene.bench.now_us)
    if not kept:
        return []
    return [Reason(rule, "lot-unknown", {"lot": name, "next": first.lot if first is not None else "none"})]


def in_stock(lots: Iterable[Lot], now_us: int) -> int:
    """Returns how much of a product may still be used, over all its lots (L13)."""
    return sum(one.left for one in lots if one.good(now_us))
