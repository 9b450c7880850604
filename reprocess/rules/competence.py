"""Who may do this: A01-A05, S01, S02, S03, S08, E37. Persons are compared, never badges."""

from __future__ import annotations

from reprocess.definitions.model import Step
from reprocess.record.people import Person
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench, Scene

CONDEMN_ROLES = ("supervisor", "clinical-engineer")


def known(bench: Bench) -> list[Reason]:
    """Returns why the actor is nobody here (A01)."""
    return [*_known(bench, bench.actor, bench.badge), *_elsewhere(bench), *_second_known(bench)]


def _elsewhere(bench: Bench) -> list[Reason]:
    """Returns that one of the people was at work at another site minutes ago: a badge may be a copy (E37)."""
    other = bench.special.elsewhere
    if other is None:
        return []
    facts: dict[str, str | int | list[str]] = {"name": other.person.name, "site": other.site, "at_us": other.at_us}
    return [Reason("E37", "badge-elsewhere", facts, role="supervisor")]


def _known(bench: Bench, person: Person | None, badge: str | None) -> list[Reason]:
    if person is None or not person.active:
        if badge is None:
            return [Reason("A01", "badge-missing", {})]
        return [Reason("A01", "badge-unknown", {"badge": badge}, role="supervisor")]
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
    if bench.special.remote and bench.second is not None:
        # Who agreed at their own station was known there; a remote person need not belong to this site (E36).
        gone = [] if bench.second.active else [Reason("A01", "badge-unknown", {"badge": "none"}, role="supervisor")]
        return gone + (same_person(bench.actor, bench.second) if bench.actor is not None else [])
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
    if bench.second is not None and _learning(scene, bench.actor, step):
        reasons += separate(scene, bench.second, step)  # a trainee's eyes are no second pair beside a preceptor's
    if step.two_people and bench.second is None:
        reasons.append(Reason("S08", "second-needed", {"step": step.step}))
    return reasons


def _learning(scene: Scene, person: Person, step: Step) -> bool:
    """Tells whether a person does the step as a trainee (A03)."""
    told = (step.competency_needed, scene.item.item_kind, scene.bench.now_us, scene.item.model)
    return person.learns(*told) and not person.may(*told)


def _competent(scene: Scene, step: Step, at_us: int) -> list[Reason]:
    actor, needed = scene.bench.actor, step.competency_needed
    kind, model = scene.item.item_kind, scene.item.model
    if actor is None or actor.may(needed, kind, at_us, model):
        return []
    if actor.temporary:
        told: dict[str, str | int | list[str]] = {"name": actor.name, "step": step.step, "item_kind": kind}
        return [Reason("A04", "temporary-staff", told, competency=needed, item_kind=kind)]
    if actor.learns(needed, kind, at_us, model):
        return _stood_by(scene, step)
    ended = actor.lapsed(needed, kind, at_us)
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


def _stood_by(scene: Scene, step: Step) -> list[Reason]:
    """Returns that a trainee acts without a competent person whose badge is scanned too (A03)."""
    second, needed, kind = scene.bench.second, step.competency_needed, scene.item.item_kind
    if second is not None and second.may(needed, kind, scene.bench.now_us, scene.item.model):
        return []
    name = scene.bench.actor.name if scene.bench.actor is not None else "nobody"
    facts: dict[str, str | int | list[str]] = {"name": name, "step": step.step, "item_kind": kind}
    return [Reason("A03", "preceptor-needed", facts, competency=needed, item_kind=kind)]


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


def signers(bench: Bench) -> list[Person]:
    """Returns whoever acts and, where there is one, the second person."""
    return [one for one in (bench.actor, bench.second) if one is not None]


def two_with_role(bench: Bench, roles: tuple[str, ...], rule: str, *, two: bool) -> list[Reason]:
    """Returns why actor and second person may not decide this: one of the roles, and two people where asked."""
    reasons = known(bench)
    if reasons or bench.actor is None:
        return reasons
    if not any(set(roles) & set(person.roles) for person in signers(bench)):
        reasons.append(Reason(rule, "role-needed", {"roles": list(roles)}, role=roles[0]))
    if two and bench.second is None:
        reasons.append(Reason(rule, "two-people-needed", {}, role=roles[0]))
    return reasons
