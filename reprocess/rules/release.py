"""The release gates G01-G11, evaluated together: every reason at once, or none."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.lines import Failing
from reprocess.definitions.model import Step, Workflow
from reprocess.record.standing import Evidence, Standing
from reprocess.rules import assembly, competence, hold, instrument, life, loads, override, reading, sequence, wearing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import ASIDE, Stage


@dataclass(frozen=True, slots=True)
class Gates:
    """Is what all gates together say.

    Attributes:
        failed: the lines of the release's own checklist that were answered no, and what follows.
    """

    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    failed: tuple[Failing, ...] = ()


def gates(scene: Scene, step: Step, checks: dict[str, bool], counts: dict[str, int]) -> Gates:
    """Returns everything that stands between an item and ready, of which `step` is the last."""
    workflow, item = scene.as_part().workflow, scene.item
    now = scene.bench.now_us
    reasons = [*hold.in_the_way(item, release=True), *competence.may_do(scene, step)]
    reasons += sequence.right_side(scene.bench, step)
    reasons += complete(workflow, item, step, now)
    reasons += instrument.still_believable(scene)
    over, near = life.in_life(workflow, item, now)
    reasons += over
    near += [one for part in scene.parts.values() for one in life.in_life(part.workflow, part.standing, now)[1]]
    reasons += [*attested(workflow, item), *loads.gate(scene), *labelled(item)]
    judged = reading.judge(step, checks, {}, counts, scene.configuration)
    reasons += [*judged.unread, *judged.missing, *(reason for reason, _ in judged.failed)]
    if workflow.item_class == "assembly":
        reasons += [*whole(scene), *wearing.worn_since(item)]
    reasons = override.left(scene.bench, reasons)
    return Gates(tuple(reasons), tuple(near), tuple(failing for _, failing in judged.failed))


def labelled(item: Standing) -> list[Reason]:
    """Returns that the item's label cannot be read, so that the next scan could name another one (G03, E20)."""
    return [Reason("G03", "relabel", {"item": item.item})] if item.relabel_us is not None else []


def complete(workflow: Workflow, item: Standing, step: Step, now_us: int) -> list[Reason]:
    """Returns the mandated steps that are not satisfied in this cycle (G01, G04, G05), the next one first."""
    if item.stage in ASIDE:
        return [Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)})]
    if item.stage == Stage.READY:
        return [Reason("P01", "already-ready", {"item": item.item})]
    if step.new_only and sequence.worn(item):
        return [Reason("U09", "one-wearer-used", {"item": item.item})]
    reasons = []
    if item.dwell is not None:
        reasons.append(Reason("T17", "clock-open", {"step": item.dwell.step}))
    mandated = workflow.mandated_for(item.contamination_class) - {step.step}
    missing = [one for one in workflow.steps if one.step in mandated and one.step not in item.satisfied]
    if missing:
        first = sequence.next_steps(workflow, item, now_us)
        reasons.append(
            Reason(
                "G01",
                "steps-missing",
                {
                    "missing": [one.step for one in missing],
                    "next": first[0] if first else missing[0].step,
                },
            )
        )
    return reasons


def attested(workflow: Workflow, item: Standing) -> list[Reason]:
    """Returns why a release may not rest on late or unobserved evidence (G10).

    Where the workflow accepts it, two people must still decide so, by an override (D06).
    """
    weak = [
        name
        for name, evidence in item.satisfied.items()
        if evidence.sort == "attested" and not (_two_saw_it(evidence) and _two_people_may(workflow, name, evidence))
    ]
    if not weak:
        return []
    if workflow.accepts_attested:
        return [Reason("D06", "attested-two", {"steps": weak}, role="supervisor")]
    return [Reason("G10", "attested-only", {"steps": weak}, role="supervisor")]


def _two_saw_it(evidence: Evidence) -> bool:
    """Tells whether two people confirmed a clock that the system had started (E07); a form alone is not that (D06)."""
    return evidence.second is not None and evidence.paper is None


def _two_people_may(workflow: Workflow, name: str, evidence: Evidence) -> bool:
    """Tells whether two people's word does: for a dwell that says so (E07), or for a load's strip chart (W07)."""
    if evidence.load is not None:
        return True
    step = workflow.step_named(name)
    return step is not None and step.dwell is not None and step.dwell.unobserved == "two-people"


def whole(scene: Scene) -> list[Reason]:
    """Returns why the parts of an assembly are not what they must be now: C01-C05, G02, T12, M07."""
    item, configuration = scene.item, scene.configuration
    if configuration is None or not item.members:
        return [Reason("C02", "not-assembled", {"item": item.item})]
    filters = sum(1 for slot in item.members if slot.startswith("filter"))
    reasons = assembly.ports(configuration, filters, item.counts.get("plugs", 0), item.counts.get("gaskets", 0))
    placed = assembly.place(scene, tuple(item.members.values()))
    reasons += [one for one in placed.reasons if one.rule in {"C01", "C03"} or one.key == "slot-empty"]
    for member in item.members.values():
        part = scene.parts[member]
        if part.standing.assembly != item.item:
            reasons.append(Reason("C09", "left-assembly", {"item": member}))
        if part.standing.stage != Stage.READY:
            stage = str(part.standing.stage)
            reasons.append(Reason("C02", "part-not-ready", {"item": member, "stage": stage}))
        reasons += assembly.part_gates(part, scene.bench.now_us)
    return reasons
