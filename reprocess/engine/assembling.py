"""Putting parts together: the arithmetic of ports, plugs and gaskets, and the entries of every part."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.model import Step
from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Assemble
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules import assembly, competence, hold, reading, sequence, wearing
from reprocess.rules.scene import Scene

ARITHMETIC: Final = frozenset({"plugs", "gaskets"})
"""The counts that the arithmetic of the ports judges, with a better sentence than a plain count has."""


def assemble(scene: Scene, request: Assemble) -> Decision:
    """Decides an assembly: approved configuration, each place filled once, ports closed, a gasket to each filter."""
    step = _assembling_step(scene)
    configuration = scene.configuration
    placed = assembly.place(scene, request.members)
    filters = sum(1 for slot in placed.members if slot.startswith("filter"))
    judged = reading.judge(step, request.checks, {}, request.counts, configuration)
    reasons = [
        *competence.may_do(scene, step),
        *sequence.in_order(scene, step),
        *sequence.right_side(scene.bench, step),
        *hold.in_the_way(scene.item, release=False),
        *wearing.worn_since(scene.item),
        *placed.reasons,
        *judged.unread,
        *judged.missing,
        *(reason for reason, _ in judged.failed if reason.facts.get("count") not in ARITHMETIC),
    ]
    if configuration is not None and request.counts.keys() >= ARITHMETIC:
        reasons += assembly.ports(configuration, filters, request.counts["plugs"], request.counts["gaskets"])
    if reasons or configuration is None:
        return deciding.refuse(scene, request, reasons, step=step.step)
    item = scene.item
    built = words.AssemblyBuilt(
        configuration=configuration.configuration,
        digest=scene.configuration_digest,
        members=placed.members,
        counts=request.counts,
    )
    warnings = hold.told(item)
    done = words.StepDone(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        evidence="measured",
        checks=request.checks,
        counts=request.counts,
        limits=judged.limits,
        warned=tuple(one.rule for one in warnings),
    )
    drafts = [on_item(item.item, built), on_item(item.item, done)]
    drafts += _joining(scene, placed.members)
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def _assembling_step(scene: Scene) -> Step:
    step = next((one for one in scene.as_part().workflow.steps if one.assembles), None)
    if step is None:
        message = f"{scene.item.item} is not an assembly."
        raise WrongUseError(message, item=scene.item.item)
    return step


def _joining(scene: Scene, members: dict[str, str]) -> list[Draft]:
    whole = scene.item
    drafts: list[Draft] = []
    for item in whole.members.values():
        former = scene.parts[item].standing
        if item not in members.values() and former.assembly == whole.item:
            drafts += deciding.leaves(former, whole, "replaced")
    for slot, item in members.items():
        joined = words.MemberJoined(assembly=whole.item, slot=slot)
        drafts.append(on_item(item, joined))
    return drafts
