"""Who may do this: A01, A02, A05, S01, S02, S03, S08. Persons are compared, never badges."""

from __future__ import annotations

from reprocess.definitions.model import Step
from reprocess.record.people import Person
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench, Scene

CONDEMN_ROLES = ("supervisor", "clinical-engineer")


def known(bench: Bench) -> list[Reason]:
    """Returns why the actor is nobody here (A01)."""
    return [*_known(bench, bench.actor, bench.badge), *_second_known(bench)]


def _known(bench: Bench, person: Person | None, badge: str | None) -> list[Reason]:
    if person is None or not person.active:
        return [Reason("A01", "badge-unknown", {"badge": badge or "none"}, role="supervisor")]
    if person.sites and bench.site.site not in person.sites:
        return [
            Reason(
                "A01",
                "not-at-this-site",
                {"name": person.name, "site": bench.site.title},
                role="supervisor",
            )
        ]
    return []


def _second_known(bench: Bench) -> list[Reason]:
    if bench.second_badge is None:
        return []
    reasons = _known(bench, bench.second, bench.second_badge)
    if not reasons and bench.second is not None and bench.actor is not None:
        reasons += same_person(bench.actor, bench.second)
    return reasons


def same_person(one: Person, two: Person) -> list[Reason]:
    """Returns why two badges are not two people (S08)."""
    if one.person == two.person:
        return [Reason("S08", "same-person", {"name": one.name})]
    return []


def may_do(scene: Scene, step: Step, *, as_of_us: int | None = None) -> list[Reason]:
    """Returns every reason why the actor may not do the step: A01, A02, A05, S01, S02, S08.

    Args:
        scene: what the request is judged on.
        step: the step asked for.
        as_of_us: the instant whose competency counts: the start of an open step, which may be finished
            although the competency lapsed meanwhile (A05); now where absent.
    """
    bench = scene.bench
    reasons = known(bench)
    if bench.actor is None or reasons:
        return reasons
    reasons += _competent(scene, step, as_of_us if as_of_us is not None else bench.now_us)
    reasons += separate(scene, bench.actor, step)
    if step.two_people and bench.second is None:
        reasons.append(Reason("S08", "second-needed", {"step": step.step}))
    return reasons


def _competent(scene: Scene, step: Step, at_us: int) -> list[Reason]:
    actor = scene.bench.actor
    kind = scene.item.item_kind
    if actor is None or actor.may(step.competency_needed, kind, at_us):
        return []
    ended = actor.lapsed(step.competency_needed, kind, at_us)
    facts: dict[str, str | int | list[str]] = {
        "name": actor.name,
        "step": step.step,
        "item_kind": kind,
    }
    if ended is not None:
        facts["ended_us"] = ended
    return [
        Reason(
            "A02",
            "competency-lapsed" if ended is not None else "competency-missing",
            facts,
            competency=step.competency_needed,
            item_kind=kind,
        )
    ]


def separate(scene: Scene, actor: Person, step: Step) -> list[Reason]:
    """Returns why the actor's own earlier work in this cycle bars this step: S01 and S02.

    Work that fell or was broken off still counts against its doer (S01), never as a second pair of eyes (S02).
    """
    item = scene.item
    reasons = []
    mine = set(item.hands.get(actor.person, ()))
    clash = [name for name in step.not_by if name in mine]
    if clash and not scene.self_inspection:
        reasons.append(
            Reason(
                "S01",
                "own-work",
                {"name": actor.name, "did": clash, "step": step.step},
                competency=step.competency_needed,
                item_kind=item.item_kind,
            )
        )
    others = {one for seen in item.satisfied.values() for one in (seen.actor, seen.second)} - {actor.person, None}
    nobody_else = not set(item.hands) - {actor.person} or (item.satisfied and not others)
    if step.not_alone and nobody_else:
        reasons.append(
            Reason(
                "S02",
                "only-actor",
                {"name": actor.name, "step": step.step},
                competency=step.competency_needed,
                item_kind=item.item_kind,
            )
        )
    return reasons


def two_with_role(bench: Bench, roles: tuple[str, ...], rule: str, *, two: bool) -> list[Reason]:
    """Returns why actor and second person may not decide this: one of the roles, and two people where asked."""
    reasons = known(bench)
    if reasons or bench.actor is None:
        return reasons
    people = [bench.actor] + ([bench.second] if bench.second is not None else [])
    if not any(set(roles) & set(person.roles) for person in people):
        reasons.append(Reason(rule, "role-needed", {"roles": list(roles)}, role=roles[0]))
    if two and bench.second is None:
        reasons.append(Reason(rule, "two-people-needed", {}, role=roles[0]))
    return reasons
