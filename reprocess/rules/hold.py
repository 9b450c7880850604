"""Holds: H01, H02, H04, H10, S03, S04. A hold is a set beside the stage and never changes it."""

from __future__ import annotations

from reprocess.definitions.holds import LIFTS, HoldType
from reprocess.record.standing import Hold, Standing
from reprocess.record.words import HoldPlaced
from reprocess.rules import custody_out
from reprocess.rules.answer import Reason
from reprocess.rules.competence import two_with_role
from reprocess.rules.scene import Scene
from reprocess.terms import Stage

WORK_GOES_ON = frozenset(sort for sort, lift in LIFTS.items() if lift.renewed) | {HoldType.COMPETENCY}
"""Holds under which the item may be worked on: wherever the lift asks for a new inspection, working is the way out."""


def answered(item: Standing, cause_id: str) -> bool:
    """Tells whether the item is held for a cause already, or a hold for it was lifted: nothing holds it again (E25)."""
    return cause_id in item.settled or any(one.cause_id == cause_id for one in item.holds.values())


def placed(hold_id: str, sort: str, rule: str, cause: str, owner: str, *, cause_id: str | None = None) -> HoldPlaced:
    """Returns the body of a new hold with the lift conditions of its type."""
    lift = LIFTS[HoldType(sort)]
    return HoldPlaced(
        hold=hold_id,
        sort=sort,
        rule=rule,
        cause=cause,
        owner=owner,
        lift_roles=tuple(lift.roles),
        lift_two_people=lift.two_people,
        lift_requires=lift.requires,
        cause_id=cause_id,
    )


def in_the_way(item: Standing, *, release: bool) -> list[Reason]:
    """Returns what bars the request: every hold a release (G02), some any work (H04), and that it is out (U07, C12)."""
    return custody_out.itself_out(item) + [
        Reason(
            "G02" if release else "H04",
            "on-hold",
            {"hold": one.hold, "sort": one.sort, "cause": one.cause, "owner": one.owner},
            role=one.lift_roles[0] if one.lift_roles else None,
        )
        for one in item.holds.values()
        if release or one.sort not in WORK_GOES_ON
    ]


def told(item: Standing) -> list[Reason]:
    """Returns the holds under which work goes on, as warnings (H04)."""
    return [
        Reason("H04", "works-under-hold", {"hold": one.hold, "sort": one.sort, "cause": one.cause})
        for one in item.holds.values()
        if one.sort in WORK_GOES_ON
    ]


def may_lift(scene: Scene, hold_id: str) -> list[Reason]:
    """Returns why the hold may not be lifted: who (H10, S03, S04) and the inspection still missing."""
    item, bench = scene.item, scene.bench
    one = item.holds.get(hold_id)
    if one is None:
        return [Reason("H02", "no-such-hold", {"hold": hold_id, "open": sorted(item.holds) or ["none"]})]
    reasons = two_with_role(bench, one.lift_roles, "H10", two=one.lift_two_people)
    actor = bench.actor
    if actor is not None and bench.second is None and one.placed_by == actor.person:
        reasons.append(Reason("S04", "own-hold", {"hold": hold_id, "name": actor.name}))
    return reasons + _renewed(scene, one) + _parts(scene, one) + _located(item, one)


def _located(item: Standing, one: Hold) -> list[Reason]:
    """Returns why a recall's hold stays: nobody has scanned the item since (H09)."""
    if one.recall is None or one.sighted_us is not None:
        return []
    return [Reason("H09", "not-located", {"item": item.item, "hold": one.hold})]


def _parts(scene: Scene, one: Hold) -> list[Reason]:
    """Returns the holds of parts for which an assembly is held (G02): they are lifted first."""
    if one.rule != "G02":
        return []
    return [
        reason
        for part in scene.parts.values()
        if part.standing.assembly == scene.item.item
        for reason in part_holds(part.standing)
    ]


def part_holds(item: Standing) -> list[Reason]:
    """Returns the holds that keep a part out of a ready assembly (G02)."""
    return [
        Reason(
            "G02",
            "part-on-hold",
            {"item": item.item, "hold": one.hold, "cause": one.cause, "owner": one.owner},
            role=one.lift_roles[0] if one.lift_roles else None,
        )
        for one in item.holds.values()
    ]


def _renewed(scene: Scene, one: Hold) -> list[Reason]:
    """Returns why the inspection that the hold asks for is not on record since it was placed."""
    if not LIFTS[HoldType(one.sort)].renewed:
        return []
    looks = [step for step in scene.as_part().workflow.steps if step.reaches is Stage.INSPECTED]
    done = [scene.item.satisfied.get(step.step) for step in looks]
    if any(seen is not None and seen.number > one.number for seen in done) or not looks:
        return []
    return [Reason("H10", "inspect-first", {"hold": one.hold, "requires": one.lift_requires})]
