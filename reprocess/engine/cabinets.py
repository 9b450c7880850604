"""Units in store: their inspections, and the cabinets that are opened in an emergency and sealed again."""

from __future__ import annotations

from datetime import date

from reprocess.engine import decision as deciding
from reprocess.engine import facts as about_items
from reprocess.engine import places as placing
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import SetAside
from reprocess.engine.request.places import InspectUnit, OpenCabinet, SealCabinet
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.rules import competence, hold, places
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Scene
from reprocess.terms import Stage, StreamKind, stream


def inspect(scene: Scene, request: InspectUnit) -> Decision:
    """Decides the record of an inspection in store (Q03-Q06).

    A good one is saved only when it is whole. One that found something is a fact and is kept as it is: the unit is
    held, or missing, and its place is to be filled up.
    """
    item = scene.item
    if not item.known:
        body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked)
        told = Reason("P05", "unknown-item", {"item": item.item})
        return deciding.found(scene, request, [on_site(scene.bench, body)], [told], ())
    if item.stage == Stage.CONDEMNED:
        told = Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})
        return deciding.refuse(scene, request, [told])
    place = places.named(scene, item.place)
    if request.missing:
        return _missing(scene, request, place)
    if request.passed and not request.seal_broken:
        asks = place.asks if place is not None else ()
        reasons = competence.known(scene.bench)
        reasons += places.missing_fields(request.findings, request.action, asks, request.readings)
        if reasons:
            return deciding.refuse(scene, request, reasons)
        return deciding.accept(scene, request, [_looked(scene, request)])
    return _amiss(scene, request, place)


def _looked(scene: Scene, request: InspectUnit) -> Draft:
    day = scene.item.anchor_day or date.fromordinal(scene.bench.local_day).day
    body = words.ItemInspectedInStore(
        findings=request.findings or "not said",
        action=request.action or "not said",
        passed=request.passed and not request.seal_broken,
        anchor_day=day,
        place=scene.item.place,
        seal=request.seal,
        readings=dict(request.readings) or None,
    )
    return on_item(scene.item.item, body)


def _missing(scene: Scene, request: InspectUnit, place: Place | None) -> Decision:
    """Records that a unit is not where it should be: it is lost, and its place is filled up (Q05)."""
    item = scene.item
    if item.custody is not None:
        told = Reason("Q05", "unit-is-out", {"item": item.item, "place": item.custody.place})
        return deciding.refuse(scene, request, [told])
    note = request.findings or "missing at the inspection in store"
    lost = about_items.set_aside(scene, SetAside(item.item, "lost", note))
    drafts = [*lost.drafts, *_restock(place, item, "a unit is missing")]
    facts: dict[str, Fact] = {"item": item.item, "place": item.place or "its place"}
    return deciding.found(scene, request, drafts, [Reason("Q05", "unit-missing", facts)], ())


def _amiss(scene: Scene, request: InspectUnit, place: Place | None) -> Decision:
    """Records an inspection that found something, or a broken seal: the unit is held (Q03, Q05)."""
    item = scene.item
    rule = "Q05" if request.seal_broken else "Q03"
    because = request.findings or ("the seal is broken" if request.seal_broken else "found in store")
    body = hold.placed(deciding.hold_id(item, "defect", 2), "defect", rule, because, "supervisor")
    drafts = [_looked(scene, request), on_item(item.item, body)]
    drafts += deciding.whole_held(scene, item, "defect", because, "supervisor")
    drafts += _restock(place, item, because)
    told = Reason(rule, "seal-broken" if request.seal_broken else "found-in-store", {"findings": because})
    return deciding.found(scene, request, drafts, [told], ())


def _restock(place: Place | None, item: Standing, because: str) -> list[Draft]:
    if place is None or place.sort not in places.CLEAN_STORES:
        return []
    return [placing.on_place(place.place, words.RestockAsked(because=because, item=item.item))]


def open_cabinet(scene: Scene, request: OpenCabinet) -> Decision:
    """Records that a cabinet was opened in an emergency: whatever was not counted as present is with somebody (E28).

    Nobody scanned, so the wearers are not known yet; what is in doubt is in doubt for whoever wears it.
    """
    place = places.named(scene, request.place)
    if place is None:
        return placing.noted(scene, request, request.place, {"seal": request.seal})
    units = {name: part.standing for name, part in scene.parts.items() if part.standing.place == place.place}
    present = tuple(sorted(set(request.present) & set(units)))
    taken = {name: one for name, one in sorted(units.items()) if name not in present}
    opened = words.CabinetOpened(seal=request.seal, taken=tuple(taken), present=present)
    restock = words.RestockAsked(because="opened in an emergency")
    drafts = [placing.on_place(place.place, opened), placing.on_place(place.place, restock)]
    drafts += [_gone(one, place) for one in taken.values()]
    strange = sorted(set(request.present) - set(units))
    doubtful = [one.item for one in taken.values() if one.holds or one.stage != Stage.READY]
    facts: dict[str, Fact] = {"place": place.place, "taken": list(taken) or ["none"], "count": len(taken)}
    reasons = [Reason("E28", "cabinet-opened", facts, role="unit-coordinator")]
    if doubtful:
        reasons.append(Reason("H05", "taken-in-doubt", {"items": doubtful}, role="infection-prevention"))
    if strange:
        reasons.append(Reason("E28", "not-of-this-cabinet", {"items": strange, "place": place.place}))
    if place.seal is not None and place.seal != request.seal:
        reasons.append(Reason("E28", "other-seal", {"seal": request.seal, "known": place.seal}))
    about = stream(StreamKind.PLACE, place.place)
    return deciding.found(scene, request, drafts, reasons, (), about=about)


def _gone(item: Standing, place: Place) -> Draft:
    """Returns the entry by which a unit of an opened cabinet is with somebody who is not identified yet."""
    body = words.ItemIssued(
        cycle=item.cycle,
        wearer=None,
        place=place.place,
        purpose="emergency",
        members=dict(item.members),
        counts=dict(item.counts),
        configuration=item.configuration,
    )
    return on_item(item.item, body)


def seal_cabinet(scene: Scene, request: SealCabinet) -> Decision:
    """Decides that a cabinet is closed under a new seal: everything in it is known, ready and in date (Q01, Q07)."""
    about = stream(StreamKind.PLACE, request.place)
    place = places.named(scene, request.place)
    if place is None or place.sort != "cabinet":
        told = Reason("Q01", "place-unknown", {"place": request.place})
        return deciding.refuse(scene, request, [told], about=about)
    reasons = competence.known(scene.bench)
    for unit in request.units:
        part = scene.parts.get(unit)
        if part is None:
            reasons.append(Reason("P05", "unknown-item", {"item": unit}))
        else:
            reasons += places.may_lie(part, place, scene.bench.now_us)
    others = [name for name, part in scene.parts.items() if part.standing.place == place.place]
    left = sorted(set(others) - set(request.units))
    if left:
        reasons.append(Reason("Q05", "units-not-counted", {"items": left, "place": place.place}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    units = tuple(sorted(set(request.units)))
    drafts = [placing.on_place(place.place, words.CabinetSealed(seal=request.seal, units=units))]
    drafts += [placing.lies(one, place) for one in units if scene.parts[one].standing.place != place.place]
    short = place.par is not None and len(units) < place.par
    warnings = [Reason("Q07", "below-par", {"place": place.place, "have": len(units), "par": place.par or 0})]
    return deciding.accept(scene, request, drafts, warnings=warnings if short else [], about=about)
