"""Lots: coming in, being used up, counted, recalled; and what a recalled lot does to the baths it is in."""

from __future__ import annotations

from typing import Literal, cast, get_args

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_site, on_solution
from reprocess.engine.request.further import Further
from reprocess.engine.request.lots import ClearLot, CountLot, RecallLot, ReceiveLot, UseLot
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.lots import Lot
from reprocess.record.solutions import Solution
from reprocess.record.words import Body
from reprocess.rules import competence, lots
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

Sort = Literal["agent", "part", "detergent", "strips", "other"]
SORTS = get_args(Sort)
QUANTITY_MOST = 1_000_000
"""Most pieces of one delivery (our choice, against a scanned barcode in the place of a number)."""


def on_lot(lot: str, body: Body) -> Draft:
    """Returns a draft for a lot's stream."""
    return Draft(stream(StreamKind.LOT, lot), body)


def receive(scene: Scene, request: ReceiveLot) -> Decision:
    """Decides the reception of a lot; what its device's earlier lots said need not be said again.

    Raises:
        WrongUseError: it is not said what it is a lot of, or how much came.
    """
    about = stream(StreamKind.LOT, request.lot)
    if not 0 < request.quantity <= QUANTITY_MOST or (request.reorder_at is not None and request.reorder_at < 0):
        message = f"A lot comes in with a quantity from 1 to {QUANTITY_MOST}, and is reordered at 0 or more."
        raise WrongUseError(message, lot=request.lot)
    lot = lots.named(scene, request.lot)
    like = lot if lot is not None else _like(scene, request)
    product = request.product or (like.product if like is not None else None)
    if product is None:
        message = f"Say what lot {request.lot} is a lot of; its label is not known here yet."
        raise WrongUseError(message, lot=request.lot)
    strangers = competence.known(scene.bench)
    if strangers:
        return deciding.refuse(scene, request, strangers, about=about)
    if lot is not None and lot.product != product:
        facts: dict[str, Fact] = {"lot": lot.lot, "product": lot.product, "wanted": product}
        return deciding.refuse(scene, request, [Reason("L01", "lot-taken", facts)], about=about)
    sort = request.sort or (like.sort if like is not None else "other")
    if sort not in SORTS:
        message = f"A lot is one of {', '.join(SORTS)}, not {sort}."
        raise WrongUseError(message, lot=request.lot)
    body = words.LotReceived(
        product=product,
        sort=cast("Sort", sort),
        site=scene.bench.site.site,
        quantity=request.quantity,
        unit=request.unit or (like.unit if like is not None else "piece"),
        expiry_us=request.expiry_us,
        reorder_at=request.reorder_at if request.reorder_at is not None else _reorder_at(like),
        device=request.device,
        label=request.label,
    )
    return deciding.accept(scene, request, [on_lot(request.lot, body)], warnings=_came(scene, body, lot), about=about)


def _like(scene: Scene, request: ReceiveLot) -> Lot | None:
    """Returns a lot whose label named the same device, the latest first."""
    same = [
        one
        for one in scene.states.values()
        if isinstance(one, Lot) and one.known and request.device is not None and one.device == request.device
    ]
    return max(same, key=lambda one: one.received_us, default=None)


def _reorder_at(like: Lot | None) -> int | None:
    return like.reorder_at if like is not None else None


def _came(scene: Scene, body: words.LotReceived, lot: Lot | None) -> list[Reason]:
    """Returns what is told of a lot that came in: out of date already, recalled, or another day than before."""
    now_us = scene.bench.now_us
    told = []
    if body.expiry_us is not None and body.expiry_us <= now_us:
        told.append(Reason("L01", "lot-came-late", {"at_us": body.expiry_us}))
    if lot is not None and lot.recalled is not None:
        told.append(Reason("L12", "lot-recalled", {"lot": lot.lot, "because": lot.recalled, "next": "none"}))
    if lot is not None and body.expiry_us != lot.expiry_us:
        told.append(Reason("L01", "lot-two-days", {"lot": lot.lot}))
    return told


def use(scene: Scene, request: UseLot) -> Decision:
    """Records that so much of a lot was taken; a fact, also where the lot is out of date, recalled or not known."""
    if not 0 < request.quantity <= QUANTITY_MOST:
        message = f"Taken is a quantity from 1 to {QUANTITY_MOST}."
        raise WrongUseError(message, lot=request.lot)
    about = stream(StreamKind.LOT, request.lot)
    lot = lots.named(scene, request.lot)
    if lot is None:
        return _noted(scene, request, request.lot, {"quantity": str(request.quantity), "used_for": request.used_for})
    drafts = [on_lot(lot.lot, words.LotUsed(quantity=request.quantity, used_for=request.used_for))]
    bad = lots.barred(scene, lot)
    if bad:
        return deciding.found(scene, request, drafts, bad, (), about=about)
    warnings = lots.told(scene, lot, taken=request.quantity)
    return deciding.accept(scene, request, drafts, warnings=warnings, about=about)


def count(scene: Scene, request: CountLot) -> Decision:
    """Records how much of a lot was counted."""
    if not 0 <= request.left <= QUANTITY_MOST:
        message = f"Counted is a quantity from 0 to {QUANTITY_MOST}."
        raise WrongUseError(message, lot=request.lot)
    lot = lots.named(scene, request.lot)
    if lot is None:
        return _noted(scene, request, request.lot, {"left": str(request.left)})
    about = stream(StreamKind.LOT, lot.lot)
    return deciding.accept(scene, request, [on_lot(lot.lot, words.LotCounted(left=request.left))], about=about)


def recall(scene: Scene, request: RecallLot) -> Decision:
    """Records that a lot must not be used, in its own stream and in that of every bath it is in (L01, L12).

    What it touched already is for a recall to find and to hold (H03).
    """
    about = stream(StreamKind.LOT, request.lot)
    drafts = recalled(scene, request.lot, request.reference)
    baths = [draft.stream.partition(":")[2] for draft in drafts if draft.stream != about]
    facts: dict[str, Fact] = {"lot": request.lot, "because": request.reference, "baths": baths or ["none"]}
    return deciding.found(scene, request, drafts, [Reason("L12", "lot-is-recalled", facts)], (), about=about)


def recalled(scene: Scene, lot: str, reference: str) -> list[Draft]:
    """Returns the entries by which a lot, and the baths and containers in use that hold it, are used no more.

    The lot need not be on record: it is barred before it comes in. The solutions are those of the scene's states.
    """
    drafts = [on_lot(lot, words.LotRecalled(reference=reference))]
    baths = (one for one in scene.states.values() if isinstance(one, Solution) and one.ended is None)
    body = words.SolutionLotRecalled(lot=lot, reference=reference)
    drafts += [on_solution(one.solution, body) for one in baths if lot in one.lots and one.recalled is None]
    return drafts


def clear(scene: Scene, request: ClearLot) -> Decision:
    """Decides that a recalled lot may be used again; baths that were barred meanwhile stay so."""
    about = stream(StreamKind.LOT, request.lot)
    held = scene.states.get(about)
    reasons = competence.two_with_role(scene.bench, lots.CLEAR_ROLES, "H10", two=True)
    if not isinstance(held, Lot) or held.recalled is None:
        reasons.append(Reason("H02", "lot-not-recalled", {"lot": request.lot}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.LotCleared(disposition=request.disposition)
    return deciding.accept(scene, request, [on_lot(request.lot, body)], about=about)


def _noted(scene: Scene, request: Further, lot: str, said: dict[str, str]) -> Decision:
    """Keeps a fact about a lot that is not on record, in the site's stream."""
    about = stream(StreamKind.LOT, lot)
    body = words.FactNoted(subject=about, asked=request.asked, words=said)
    told = Reason("L01", "lot-unknown", {"lot": lot, "next": "none"})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], (), about=about)


def taken(scene: Scene, lot: str | None, quantity: int, used_for: str) -> list[Draft]:
    """Returns the entry by which a lot on record is used; nothing where the lot is not (L13)."""
    known = lots.named(scene, lot)
    if known is None or quantity < 1:
        return []
    return [on_lot(known.lot, words.LotUsed(quantity=quantity, used_for=used_for))]
