"""Which rules may be passed over, by whom and on what: OV1 and OV2 of the catalogue, A08, C20.

An override is for paperwork and logistics, never for physics: contact time, missing parts, failed airflow, a damaged
battery, a recall, a missing disinfection and a failed load are not in the table, and nothing else reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import permutations
from types import MappingProxyType
from typing import Final, Literal

from reprocess.record.people import Person
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.asked import Override
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import SECOND_US

REASONS: Final = (
    "supply-shortage",
    "instrument-away",
    "manufacturer-statement",
    "written-emergency-policy",
    "form-came-late",
    "load-tests-pending",
    "loan-agreed",
    "other",
)
"""Why somebody passes over a rule, by code; the words beside it say more (our choice)."""
AGAIN_US: Final = 15 * 60 * SECOND_US
"""Nobody overrides what was refused to themselves twice within this time (A08, catalogue)."""
WEEK_DAYS: Final = 7
MANY: Final = 3
"""So many overrides of one rule within a week are a matter to look into (C20)."""
UNTIL_DAYS_MOST: Final = 30
"""The furthest end of a temporary substitution (our choice)."""

Condition = Callable[[Scene], bool]


@dataclass(frozen=True, slots=True)
class Overridable:
    """Is how one rule may be passed over.

    Attributes:
        roles: one of the people must have one of these.
        second_roles: another person must have one of these (OV2); None where one person is enough (OV1).
        keys: the only sentences of the rule that may be passed over.
        needs: what must be given besides the reason: until when, or a statement's reference.
        only: under which condition at all; always where None.
    """

    roles: tuple[str, ...]
    keys: frozenset[str]
    second_roles: tuple[str, ...] | None = None
    needs: Literal["until", "reference"] | None = None
    only: Condition | None = None


_SUPERVISOR = ("supervisor",)
_LENDING = ("supervisor", "programme-administrator")
_PROGRAMME = ("programme-administrator",)
_INFECTION = ("infection-prevention",)
_NOT_ELIGIBLE = frozenset({"wearer-untrained", "wearer-not-cleared", "wearer-no-fit"})
_ANY = ("supervisor", "programme-administrator", "infection-prevention", "clinical-engineer")


def _first_time(scene: Scene) -> bool:
    return scene.instrument is not None and not scene.instrument.excused


def _accepts_attested(scene: Scene) -> bool:
    return scene.workflow is not None and scene.workflow.accepts_attested


def _early(scene: Scene) -> bool:
    """Tells whether the workflow lets items go before their load's indicators are read; whether it passed, G11 says."""
    return scene.workflow is not None and scene.workflow.early_release


def _emergency(scene: Scene) -> bool:
    until_us = scene.bench.site.emergency_until_us
    return until_us is not None and scene.bench.now_us < until_us


OVERRIDABLE: Final[Mapping[str, Overridable]] = MappingProxyType(
    {
        "A09": Overridable(("unit-coordinator",), _NOT_ELIGIBLE, _PROGRAMME, only=_emergency),
        "C11": Overridable(_LENDING, frozenset({"stays-there"})),
        "D05": Overridable(_SUPERVISOR, frozenset({"very-late"})),
        "D06": Overridable(_SUPERVISOR, frozenset({"attested-two"}), _ANY, only=_accepts_attested),
        "G11": Overridable(_SUPERVISOR, frozenset({"indicator-missing"}), _ANY, only=_early),
        "M09": Overridable(_SUPERVISOR, frozenset({"instrument-unverified"}), only=_first_time),
        "P14": Overridable(_PROGRAMME, frozenset({"agent-not-allowed"}), _INFECTION, needs="until"),
        "T12": Overridable(_PROGRAMME, frozenset({"life-over"}), _ANY, needs="reference"),
        "U14": Overridable(_LENDING, frozenset({"loan-needs-role"})),
    }
)
"""The rules that may be passed over; every other one never is."""


def left(bench: Bench, reasons: Iterable[Reason]) -> list[Reason]:
    """Returns the reasons that still stand: all but those of the rule that this request may pass over."""
    waived = bench.special.waived
    if waived is None:
        return list(reasons)
    return [one for one in reasons if one.rule != waived or not _covers(one)]


def _covers(reason: Reason) -> bool:
    row = OVERRIDABLE.get(reason.rule)
    return row is not None and reason.key in row.keys


def judge(scene: Scene, asked: Override, reasons: Iterable[Reason]) -> tuple[list[Reason], tuple[str, ...]]:
    """Returns (why the override does not help, whose roles allow it); one is for one part only (C20)."""
    others = [one for one in reasons if one.rule != asked.rule or not _covers(one)]
    if others:
        rules = list(dict.fromkeys(one.rule for one in others))
        return [Reason("A08", "not-overridden", {"rule": asked.rule, "others": rules})], ()
    row = OVERRIDABLE[asked.rule]
    parts = {str(one.facts.get("item")) for one in reasons}
    if len(parts) > 1 or (row.only is not None and not row.only(scene)):
        return [Reason("A08", "not-overridden-here", {"rule": asked.rule})], ()
    allowing = _allowing(row, people(scene.bench))
    told = [] if allowing else [_whom(asked.rule, row)]
    told += _needed(scene.bench, asked, row)
    told += _again(scene.bench, allowing)
    return told, allowing


def people(bench: Bench) -> list[Person]:
    """Returns everybody who stands behind a request, each once, the actor last."""
    named = [*bench.special.consenting, bench.second, bench.actor]
    return list({one.person: one for one in named if one is not None}.values())


def _allowing(row: Overridable, present: list[Person]) -> tuple[str, ...]:
    """Returns who allows it by their roles, the actor only where nobody else does; empty where nobody does."""
    if row.second_roles is None:
        return next(((one.person,) for one in present if set(one.roles) & set(row.roles)), ())
    for one, two in permutations(present, 2):
        if set(one.roles) & set(row.roles) and set(two.roles) & set(row.second_roles):
            return (one.person, two.person)
    return ()


def _whom(rule: str, row: Overridable) -> Reason:
    if row.second_roles is None:
        return Reason("A08", "override-role", {"rule": rule, "roles": list(row.roles)}, role=row.roles[0])
    facts: dict[str, Fact] = {"rule": rule, "roles": list(row.roles), "others": list(row.second_roles)}
    return Reason("A08", "override-two", facts, role=row.roles[0])


def _needed(bench: Bench, asked: Override, row: Overridable) -> list[Reason]:
    furthest_us = bench.now_us + UNTIL_DAYS_MOST * 86_400 * SECOND_US
    if row.needs == "until" and (asked.until_us is None or not bench.now_us < asked.until_us <= furthest_us):
        return [Reason("A08", "override-until", {"rule": asked.rule, "days": UNTIL_DAYS_MOST})]
    if row.needs == "reference" and not asked.reference:
        return [Reason("A08", "override-reference", {"rule": asked.rule})]
    return []


def _again(bench: Bench, allowing: tuple[str, ...]) -> list[Reason]:
    """Returns that the actor overrides what was refused to themselves a second time within minutes (A08)."""
    me = bench.actor.person if bench.actor is not None else None
    if me not in allowing:
        return []
    recent = [one for one in bench.special.past if bench.now_us - one.at_us < AGAIN_US]
    if not any(one.actor == me and me in one.authorised for one in recent):
        return []
    return [Reason("A08", "override-again", {"minutes": AGAIN_US // SECOND_US // 60}, role="supervisor")]


def many(bench: Bench, rule: str) -> int | None:
    """Returns how often a rule was overridden within a week, this time included, where that is too often (C20)."""
    times = 1 + sum(1 for one in bench.special.past if one.rule == rule)
    return times if times >= MANY else None
