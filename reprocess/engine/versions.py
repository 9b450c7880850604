"""A change for safety: open cycles go on under the new version, from the first step that changed (G12, E26)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.engine import decision as deciding
from reprocess.engine.decision import on_item
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import ASIDE, Stage

TOLD: Final = {"title", "follows", "example", "steps", "wearing"}
"""What of a file says nothing about how ready is reached or how long it lasts; its steps are compared one by one."""


def changed_from(old: Workflow, new: Workflow) -> tuple[str, ...]:
    """Returns the old version's steps from the first that is not word for word the same, in the file's order."""
    same = 0
    for one, two in zip(old.steps, new.steps, strict=False):
        if one != two:
            break
        same += 1
    if same == len(old.steps) == len(new.steps):
        return ()
    return tuple(step.step for step in old.steps[same:])


def moved(
    bench: Bench, parts: Sequence[Part], new: Workflow, digest: str, wholes: Mapping[str, Part], because: str
) -> list[Draft]:
    """Returns the entries by which open cycles move to a new version, with the assemblies built on what fell.

    What was ready under the old version is ready no longer where a step, a limit, the shelf life or whatever else makes
    it ready changed: nobody can say that it would be.
    """
    drafts: list[Draft] = []
    for part in parts:
        item = part.standing
        changed = changed_from(part.workflow, new)
        if part.workflow.model_dump(exclude=TOLD) != new.model_dump(exclude=TOLD):
            changed = (*changed, part.workflow.release_step.step)
        still = deciding.Fall((), Stage(item.stage))
        fallen = deciding.fall(part, (*changed, part.workflow.release_step.step)) if changed else still
        fell, stage = _closed(part, new, fallen)
        body = words.CycleMoved(
            workflow=new.workflow, digest=digest, was=part.digest, stage=stage, fell=fell, because=because
        )
        if item.dwell is not None and item.dwell.step in fell:
            opened = item.dwell
            broken = words.DwellBroken(step=opened.step, cause="changed", rule="G12", wet_s=0, least_s=opened.least_s)
            drafts.append(on_item(item.item, broken))
        drafts.append(on_item(item.item, body))
        if fell:
            around = Scene(bench=bench, item=item, wholes=wholes)
            drafts += deciding.whole_falls(around, item, "G12", f"{item.item}: {because}")
    return drafts


def _closed(part: Part, new: Workflow, fallen: deciding.Fall) -> tuple[tuple[str, ...], str]:
    """Returns (what falls, the stage that is left) so that everything left rests on what the new version asks for."""
    item = part.standing
    if fallen.stage in ASIDE:
        return (), fallen.stage
    running = {item.dwell.step} if item.dwell is not None else set()
    left = (set(item.satisfied) | running) - set(fallen.fell)
    for _ in new.steps:
        left = {
            name
            for name in left
            if (step := new.step_named(name)) is not None
            and set(new.needed_before(step, item.contamination_class)) <= left - running
        }
    fell = tuple(sorted((set(item.satisfied) | running) - left))
    return fell, new.stage_for(frozenset(left - running)) if fell else fallen.stage


def told(file: str, drafts: Sequence[Draft], out: int) -> Reason:
    """Returns how many open cycles moved, how many lost steps, and how many items are out and must be recalled."""
    bodies = [draft.body for draft in drafts if isinstance(draft.body, words.CycleMoved)]
    fell = sum(1 for body in bodies if body.fell)
    return Reason("G12", "safety-moved", {"file": file, "moved": len(bodies), "fell": fell, "out": out})
