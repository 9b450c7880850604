"""Putting parts together: the arithmetic of ports, plugs and gaskets, and the entries of every part."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.model import Step
from reprocess.engine import decision as deciding
from reprocess.engine import lots as taking
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Assemble
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules import assembly, competence, hold, lots, override, reading, sequence, wearing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

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
    drawn, told = _from_lots(scene, request, placed.members)
    reasons = override.left(scene.bench, [*reasons, *drawn])
    if reasons or configuration is None:
        return deciding.refuse(scene, request, reasons, step=step.step)
    item = scene.item
    built = words.AssemblyBuilt(
        configuration=configuration.configuration,
        digest=scene.configuration_digest,
        members=placed.members,
        counts=request.counts,
        lots=dict(request.lots) or None,
    )
    warnings = [*told, *hold.told(item), *assembly.pair(placed.members, scene.parts)]
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
    about = stream(StreamKind.ITEM, item.item)
    for name, lot in sorted(request.lots.items()):
        drafts += taking.taken(scene, lot, request.counts.get(name, 0), about)
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def _from_lots(scene: Scene, request: Assemble, members: dict[str, str]) -> tuple[list[Reason], list[Reason]]:
    """Returns why parts of the lots named may not be fitted, and what is told of those lots (L01, L12).

    Raises:
        WrongUseError: a lot is named for what is neither a place nor a count of the assembly.
    """
    reasons: list[Reason] = []
    told: list[Reason] = []
    for name, lot in sorted(request.lots.items()):
        if name not in members and name not in request.counts:
            message = f"{name} is neither a place nor a count of {scene.item.item}."
            raise WrongUseError(message, item=scene.item.item)
        known = lots.named(scene, lot)
        if known is None:
            reasons += lots.off_record(scene, lot)
            told.append(Reason("L01", "lot-unknown", {"lot": lot, "next": "none"}))
            continue
        reasons += lots.barred(scene, known)
        told += lots.told(scene, known, taken=request.counts.get(name, 0))
    return reasons, told


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
