"""Counted batches: parts without a serial move from one batch to another, and take with them what they are (P02).

The batch they join is never better than they are: parts less far along, on the clock, aside or out of a bath that may
still fail its test make it start again, and every hold of the batch they leave is placed on the batch they join.
"""

from __future__ import annotations

from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Contaminate, MoveCounted
from reprocess.errors import WrongUseError
from reprocess.record import entry as words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import hold
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import ASIDE, SPINE, Stage


def move(scene: Scene, request: MoveCounted) -> Decision:
    """Records that so many parts went from one batch into another.

    Raises:
        WrongUseError: one of the two is no batch of that kind on record, or there are not that many.
    """
    source, target = scene.item, scene.parts.get(request.other)
    if target is None or not _counted(scene, target):
        message = f"{source.item} and {request.other} are not two counted batches of one kind at one site."
        raise WrongUseError(message, item=source.item, other=request.other)
    if not 0 < request.quantity <= source.quantity:
        message = f"{source.item} holds {source.quantity}; {request.quantity} cannot leave it."
        raise WrongUseError(message, item=source.item)
    other = target.standing
    drafts = [
        on_item(source.item, words.ItemSplit(other=other.item, quantity=request.quantity)),
        on_item(other.item, words.ItemSplit(other=source.item, quantity=-request.quantity)),
    ]
    worse = _worse(source, other)
    if worse:
        again = Contaminate(other.item, "mixed", source.contamination_class, note=f"parts of {source.item}")
        drafts += facts.start_again(target, again, None)
    drafts += _holds(source, other, len(drafts))
    told = Reason("P02", "mixed-batch", {"item": source.item, "other": other.item, "stage": str(source.stage)})
    if worse or source.holds:
        return deciding.found(scene, request, drafts, [told], ())
    return deciding.accept(scene, request, drafts)


def _counted(scene: Scene, target: Part) -> bool:
    source, other = scene.item, target.standing
    alike = (source.item_kind, source.model, source.site) == (other.item_kind, other.model, other.site)
    counted = scene.as_part().workflow.counted and target.workflow.counted
    return alike and counted and source.item != other.item and other.stage != Stage.CONDEMNED


def _worse(source: Standing, other: Standing) -> bool:
    """Tells whether the parts that come are less far along than the batch they join, or anything but at rest."""
    if other.stage == Stage.USED and other.dwell is None and not other.satisfied:
        return False
    if source.stage in ASIDE or other.stage in ASIDE or source.dwell is not None or other.dwell is not None:
        return True
    if any(evidence.solution is not None for evidence in source.satisfied.values()):
        return True  # a bath that fails later reaches the batch that was in it, and must not miss these parts
    rank = {stage: number for number, stage in enumerate(SPINE)}
    behind = rank[Stage(source.stage)] < rank[Stage(other.stage)]
    return behind or not source.satisfied.keys() >= other.satisfied.keys()


def _holds(source: Standing, other: Standing, ahead: int) -> list[Draft]:
    return [
        on_item(
            other.item,
            hold.placed(
                deciding.hold_id(other, one.sort, ahead + number),
                one.sort,
                one.rule,
                f"parts of {source.item}: {one.cause}",
                one.owner,
            ),
        )
        for number, one in enumerate(source.holds.values())
    ]
