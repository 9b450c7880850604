"""Counted batches: parts without a serial move from one batch to another, and take with them what they are (P02).

The batch they join is never better than they are. Between two used batches and between two ready ones parts just move;
in all other cases the batch that they join starts again, under what both were contaminated with. It takes over the age
of the older ones (T12), every hold of the batch they leave, and a hold of its own where that batch was condemned.
"""

from __future__ import annotations

from reprocess.definitions.holds import HoldType
from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Contaminate, MoveCounted
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import hold, sequence, waiting
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import Stage


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
        on_item(other.item, _arrived(source, request.quantity)),
    ]
    worse = _worse(source, target)
    if worse:
        cause = "used" if source.used or source.custody is not None else "mixed"
        began_us = waiting.use_ended_us(source, None)
        again = Contaminate(other.item, cause, source.contamination_class, began_us, f"parts of {source.item}")
        drafts += facts.start_again(target, again, None)
    drafts += _holds(source, other, len(drafts))
    told = Reason("P02", "mixed-batch", {"item": source.item, "other": other.item, "stage": str(source.stage)})
    if worse or source.holds or source.stage == Stage.CONDEMNED:
        return deciding.found(scene, request, drafts, [told], ())
    return deciding.accept(scene, request, drafts)


def _counted(scene: Scene, target: Part) -> bool:
    source, other = scene.item, target.standing
    alike = (source.item_kind, source.model, source.site) == (other.item_kind, other.model, other.site)
    counted = scene.as_part().workflow.counted and target.workflow.counted
    return alike and counted and source.item != other.item and other.stage != Stage.CONDEMNED


def _arrived(source: Standing, quantity: int) -> words.ItemSplit:
    """Returns the entry of the batch that parts join: how many, how old they are and how worn (T12)."""
    return words.ItemSplit(
        other=source.item,
        quantity=-quantity,
        in_service_us=source.in_service_us,
        opened_us=source.opened_us,
        sealed_expiry_us=source.sealed_expiry_us,
        cycles_done=source.cycles_done,
    )


def _worse(source: Standing, target: Part) -> bool:
    """Tells whether the batch that parts join must start again because of them.

    Parts of a batch that is out were with whoever has it; a load counts for what was in it when it started.
    """
    other = target.standing
    if source.custody is not None:
        return True
    if source.stage == other.stage == Stage.READY:
        # A bath or load that fails or an instrument found faulty later reaches its own batch, not these parts.
        return any(one.solution or one.instrument or one.load for one in source.satisfied.values())
    if other.stage != Stage.USED or other.dwell is not None or other.satisfied or other.load is not None:
        return True
    carried, _ = sequence.class_after(target.current, other, source.contamination_class)
    return source.used or carried != other.contamination_class


def _holds(source: Standing, other: Standing, ahead: int) -> list[Draft]:
    """Returns the holds that come along with the parts; what was condemned is held for people to decide."""
    found = [(one.sort, one.rule, one.cause, one.owner) for one in source.holds.values()]
    if source.stage == Stage.CONDEMNED:
        found.append((str(HoldType.DEFECT), "S03", "condemned", "supervisor"))
    return [
        on_item(
            other.item,
            hold.placed(
                deciding.hold_id(other, sort, ahead + number), sort, rule, f"parts of {source.item}: {cause}", owner
            ),
        )
        for number, (sort, rule, cause, owner) in enumerate(found)
    ]
