"""Repair: what goes there says which portions are still contaminated; what comes back takes its whole cycle."""

from __future__ import annotations

from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import Contaminate
from reprocess.engine.request.repair import FinishRepair
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import competence, hold
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import Stage


def finish(scene: Scene, request: FinishRepair) -> Decision:
    """Records that a repair is done: with a good test the item takes its whole cycle again, else it stays and is held.

    The lots of the parts fitted are linked, so that a recall of one finds the item (L12).
    """
    item = scene.item
    if not item.known:
        body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words={"work": request.work})
        told = Reason("P05", "unknown-item", {"item": item.item})
        return deciding.found(scene, request, [on_site(scene.bench, body)], [told], ())
    if item.stage == Stage.CONDEMNED:
        kept = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words={"work": request.work})
        told = Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})
        return deciding.found(scene, request, [on_item(item.item, kept)], [told], ())
    repaired = words.ItemRepaired(
        work=request.work,
        test=request.test,
        passed=request.passed,
        returned_by=request.returned_by,
        lots=dict(request.lots),
    )
    drafts = [on_item(item.item, repaired)]
    if not request.passed or competence.known(scene.bench):
        return _not_good(scene, request, drafts)
    back = Contaminate(item.item, "returned-from-repair", note=request.work)
    drafts += facts.started_again(scene, back)
    warnings = [] if item.stage == Stage.IN_REPAIR else [Reason("P02", "was-not-in-repair", _facts(item))]
    return deciding.accept(scene, request, drafts, warnings=warnings)


def _not_good(scene: Scene, request: FinishRepair, drafts: list[Draft]) -> Decision:
    """Returns the decision on a repair that did not pass its test, or that nobody known here vouches for."""
    item, because = scene.item, f"not good after repair: {request.test}"
    body = hold.placed(deciding.hold_id(item, "defect", 2), "defect", "H10", because, "clinical-engineer")
    told = Reason("H10", "repair-failed", {"item": item.item, "test": request.test}, role="clinical-engineer")
    aside = [] if item.stage == Stage.IN_REPAIR else [on_item(item.item, words.ItemSentToRepair(fault=request.test))]
    return deciding.found(scene, request, [drafts[0], on_item(item.item, body), *aside], [told], ())


def _facts(item: Standing) -> dict[str, str | int | list[str]]:
    return {"item": item.item, "stage": str(item.stage)}
