"""Whether an item may leave the department, and with whom: U01-U06, U09, U13, U14, C07, C11, C12, P08, Q08."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.definitions.wearing import WearStep
from reprocess.quantities.battery import ALARM_LEAVES_MIN, ASSEMBLY_RUN_MIN_LEAST, minutes_left
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record.custody import Custody
from reprocess.record.standing import Standing
from reprocess.rules import assembly, batteries, competence, inspection, life
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.custody_out import holder, on_its_way
from reprocess.rules.scene import Bench, Scene
from reprocess.rules.wearing import class_of
from reprocess.terms import SECOND_US, Stage, StreamKind, stream

PURPOSES: Final = ("care", "emergency", "training", "fit-test")
"""What an item is issued for; training and fit tests are counted apart, and every use is followed by a cycle (U15)."""
HOUR_US: Final = 3600 * SECOND_US
IDENTIFY_US: Final = 4 * HOUR_US
"""Within this time the wearer of an anonymous issue is named (U01, site parameter with this default)."""
EXPECTED_US: Final = 12 * HOUR_US
"""How long an item is expected to be out where nobody said (U10, site parameter with this default)."""
GRACE_US: Final = 4 * HOUR_US
"""How long after the expected time an item is overdue (U10, site parameter with this default)."""
SHIFT_US: Final = 12 * HOUR_US
"""Within this time of the issue the same wearer may put it on again (U06, site parameter with this default)."""
OVERDUE_MOST: Final = 2
"""More overdue units than this are told when the same wearer takes another one (U13)."""
LEND_ROLES: Final = ("supervisor", "programme-administrator")
"""One of these lets an item leave the network or its own unit (U14, C11)."""
CHARGE: Final = "soc_percent"
FULL_PERCENT: Final = 100


def look_of(workflow: Workflow) -> WearStep | None:
    """Returns the lines of the look-over at issue as one step, or None for what is not put on (U03, M01, M07).

    They are the steps of putting on up to the last one that counts or measures; what follows is done on the body.
    """
    steps = workflow.wearing.put_on if workflow.wearing is not None else ()
    last = max((n for n, one in enumerate(steps) if one.counts or one.readings or one.instrument), default=-1)
    looks = steps[: last + 1]
    if not looks:
        return None
    return WearStep(
        step="issue",
        title="Look it over before it is taken",
        instrument=next((one.instrument for one in looks if one.instrument is not None), None),
        checks=tuple({check.check: check for one in looks for check in one.checks}.values()),
        readings=tuple({reading.reading: reading for one in looks for reading in one.readings}.values()),
        counts=tuple({count.count: count for one in looks for count in one.counts}.values()),
    )


def cautions_of(workflow: Workflow) -> tuple[str, ...]:
    """Returns the keys of the cautions that are shown at issue: those of the look-over, then what it is not."""
    if workflow.wearing is None:
        return ()
    told = [one.caution for one in workflow.wearing.put_on if one.caution is not None]
    return tuple(dict.fromkeys([*told, "not_life"]))


def issued_already(item: Standing, scene: Scene) -> list[Reason]:
    """Returns that an item is out already: where it is, never who has it (P08, C12)."""
    custody = holder(item, scene)
    if custody is None:
        return []
    facts: dict[str, Fact] = {"item": item.item, "place": custody.place, "since_us": custody.since_us}
    return on_its_way(item, custody) or [Reason("P08", "issued-already", facts)]


def may_leave(scene: Scene) -> list[Reason]:
    """Returns why an item may not be handed to anybody: not ready, held, out of date, not here, part of a whole."""
    item, part, now = scene.item, scene.as_part(), scene.bench.now_us
    reasons = issued_already(item, scene)
    if item.assembly is not None:
        reasons.append(Reason("C09", "in-another", {"item": item.item, "assembly": item.assembly}))
    if item.site != scene.bench.site.site and not reasons:
        reasons.append(Reason("C12", "other-site", {"item": item.item, "site": item.site}))
    reasons += _held(item)
    if part.workflow.single_wearer and item.used:
        reasons.append(Reason("U09", "one-wearer-used", {"item": item.item}))
    if item.stage != Stage.READY:
        return [*reasons, Reason("U02", "not-ready-to-issue", {"item": item.item, "stage": str(item.stage)})]
    reasons += [one for one in life.unusable(part.workflow, item, now) if one.rule != "G02"]
    reasons += _parts(scene)
    return reasons + [one for one in _charges(scene) if one.rule == "B03"]


def _parts(scene: Scene) -> list[Reason]:
    """Returns why a part keeps its assembly from being worn: it left, is not ready, elsewhere, held or out of date."""
    item, reasons = scene.item, list[Reason]()
    for name in item.members.values():
        member = scene.parts[name].standing
        if member.assembly != item.item:
            reasons.append(Reason("C09", "left-assembly", {"item": name}))
        if member.stage != Stage.READY:
            reasons.append(Reason("C02", "part-not-ready", {"item": name, "stage": str(member.stage)}))
        if member.site != item.site:
            reasons.append(Reason("C12", "other-site", {"item": name, "site": member.site}))
        reasons += assembly.part_gates(scene.parts[name], scene.bench.now_us)
    return reasons


def _charges(scene: Scene) -> list[Reason]:
    """Returns what is to be said about the charge of the item, or of its battery (B03, B04)."""
    parts = [scene.as_part(), *(scene.parts[name] for name in scene.item.members.values() if name in scene.parts)]
    return [told for part in parts for told in batteries.at_issue(part, scene.bench.now_us)]


def _held(item: Standing) -> list[Reason]:
    return [
        Reason(
            "H04",
            "on-hold",
            {"hold": one.hold, "sort": one.sort, "cause": one.cause, "owner": one.owner},
            role=one.lift_roles[0] if one.lift_roles else None,
        )
        for one in item.holds.values()
    ]


def stays(item: Standing, place: str, bench: Bench) -> list[Reason]:
    """Returns that a dedicated item does not leave its place unless a supervisor lets it go (C11)."""
    dedication = item.dedication
    if dedication is None or dedication.place in (None, place):
        return []
    return _role(bench, "C11", "stays-there", {"item": item.item, "place": dedication.place or ""})


def may_lend(scene: Scene) -> list[Reason]:
    """Returns why nobody here may lend an item outside: one of two roles must scan, first or second (U14)."""
    return _role(scene.bench, "U14", "loan-needs-role", {"item": scene.item.item})


def _role(bench: Bench, rule: str, key: str, facts: dict[str, Fact]) -> list[Reason]:
    if any(set(LEND_ROLES) & set(one.roles) for one in (bench.actor, bench.second) if one is not None):
        return []
    return [Reason(rule, key, facts, role=LEND_ROLES[0])]


def who_takes(wearer: str | None, purpose: str, item: str) -> tuple[list[Reason], list[Reason]]:
    """Returns (refusals, warnings) about naming the wearer: nobody only in an emergency, and not for long (U01)."""
    if wearer is not None:
        return [], []
    if purpose != "emergency":
        return [Reason("U01", "wearer-missing", {"item": item})], []
    return [], [Reason("U01", "identify-later", {"item": item, "hours": IDENTIFY_US // HOUR_US})]


def charged_for(readings: Mapping[str, str], minutes: int | None) -> list[Reason]:
    """Returns why the charge is too low for the expected wear and the half hour that the alarm leaves (U02, B03).

    A full battery is taken for the run time that an approved assembly must have, the least there is.
    """
    charge = read_number(readings.get(CHARGE, ""), "percent")
    if minutes is None or isinstance(charge, BadReading) or not 0 <= charge <= FULL_PERCENT:
        return []
    runs = minutes_left(charge, full_min=ASSEMBLY_RUN_MIN_LEAST)
    needed = minutes + ALARM_LEAVES_MIN
    if needed <= runs:
        return []
    return [Reason("U02", "charge-short", {"charge": readings[CHARGE], "runs": int(runs), "needed": needed})]


def warned(scene: Scene, wearer: str | None) -> list[Reason]:
    """Returns what whoever hands it out must know: U04, U13, C07, Q08, and limits that are near (T12)."""
    item, others = scene.item, other_items(scene)
    mine = [one for one in others if one.custody is not None and wearer is not None and one.custody.wearer == wearer]
    found = []
    if mine:
        found.append(Reason("U04", "second-unit", {"units": len(mine)}))
    late = [one for one in mine if overdue_us(one) <= scene.bench.now_us]
    if len(late) > OVERDUE_MOST:
        found.append(Reason("U13", "units-overdue", {"units": len(late)}))
    of_kit = [item, *(scene.parts[name].standing for name in item.members.values() if name in scene.parts)]
    found += [
        Reason("C07", "kept-for-another", {"item": one.item})
        for one in of_kit
        if one.dedication is not None and one.dedication.wearer not in (None, wearer)
    ]
    first = first_due(scene)
    if first is not None and (first.ready_until_us or 0) < (item.ready_until_us or 0):
        at_us = first.ready_until_us or 0
        found.append(Reason("Q08", "sooner-due", {"item": first.item, "at_us": at_us}))
    found += [*(one for one in _charges(scene) if one.rule == "B04"), *inspection.overdue(scene)]
    return [*found, *life.in_life(scene.as_part().workflow, item, scene.bench.now_us)[1]]


def other_items(scene: Scene) -> list[Standing]:
    """Returns the other items that the scene was read with: what the wearer has, and what is ready like this one."""
    own = stream(StreamKind.ITEM, scene.item.item)
    return [state for name, state in scene.states.items() if isinstance(state, Standing) and name != own]


def overdue_us(item: Standing) -> int:
    """Returns when an item that is out is overdue (U10)."""
    return 0 if item.custody is None else expected_us(item.custody) + GRACE_US


def expected_us(custody: Custody) -> int:
    """Returns when an item is expected back; half a day after it went where nobody said (U10)."""
    return custody.expected_us if custody.expected_us is not None else custody.since_us + EXPECTED_US


def first_due(scene: Scene) -> Standing | None:
    """Returns the ready item of the same kind and site that is to be used first, or None (Q08)."""
    like = [one for one in other_items(scene) if _like(one, scene)]
    return min(like, key=lambda one: (one.ready_until_us or 2**62, one.item), default=None)


def _like(one: Standing, scene: Scene) -> bool:
    item, now = scene.item, scene.bench.now_us
    alike = (one.item_kind, one.site, one.stage) == (item.item_kind, item.site, Stage.READY)
    worn = one.wear is not None and one.wear.worn
    kept = one.dedication is not None
    in_date = one.ready_until_us is None or one.ready_until_us > now
    return alike and in_date and not (one.custody or one.assembly or one.holds or worn or kept)


def offered(scene: Scene) -> Reason:
    """Returns which ready one may be taken instead, or that there is none here (U03)."""
    other = first_due(scene)
    if other is None:
        return Reason("U03", "none-left", {"item_kind": scene.item.item_kind})
    return Reason("U03", "take-another", {"item": scene.item.item, "other": other.item})


def worn_by_another(scene: Scene, wearer: str) -> list[Reason]:
    """Returns why a wearer may not put an issued item on once more (U06)."""
    item, custody = scene.item, scene.item.custody
    if custody is None or custody.sort != "issued":
        return [Reason("U06", "not-issued", {"item": item.item})]
    reasons = list(competence.known(scene.bench))
    if custody.wearer != wearer:
        reasons.append(Reason("U06", "needs-cycle", {"item": item.item}))
    elif not 0 <= scene.bench.now_us - custody.since_us <= SHIFT_US:
        reasons.append(Reason("U06", "shift-over", {"item": item.item, "hours": SHIFT_US // HOUR_US}))
    if item.stage != Stage.READY or _soiled(scene):
        reasons.append(Reason("U06", "needs-cycle", {"item": item.item}))
    return reasons + _held(item) + _parts(scene)


def _soiled(scene: Scene) -> bool:
    """Tells whether something was seen at taking off that calls for more than the routine (U08)."""
    wearing, wear = scene.as_part().workflow.wearing, scene.item.wear
    return wearing is not None and wear is not None and class_of(wearing, wear.traces) != "routine"
