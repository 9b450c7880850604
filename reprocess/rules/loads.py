"""Loads of a machine: W01-W08 and the gate G11. A load is judged by its record, never by the lamp of the machine."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.times import Loading, Thermal
from reprocess.quantities.lethality import Sampling, a0
from reprocess.quantities.logger import LoggerRecord
from reprocess.record.loads import Load, LoadState
from reprocess.record.moment import Elapsed, elapsed
from reprocess.record.places import Instrument
from reprocess.record.standing import Standing
from reprocess.record.words import Dose
from reprocess.rules import competence, contact, hold, reading, sequence, waiting
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import ASIDE, SECOND_US, StreamKind, stream

WASHER: Final = "washer"
"""The sort of instrument that runs loads."""
RECORD_OVER_S: Final = 2
"""How much longer than its cycle a record may be: what two clocks may differ (design section 3)."""
LOGGER_OFF_S: Final = 300
"""How far a logger's own clock may be off (our choice, site parameter with this default)."""


def step_of(workflow: Workflow, item: Standing) -> Step | None:
    """Returns the step that a load would do for this item now; the last one where each is done, None where none is."""
    steps = [step for step in workflow.steps if step.dwell is not None and step.dwell.loading is not None]
    return next((step for step in steps if step.step not in item.satisfied), steps[-1] if steps else None)


def terms_of(step: Step) -> tuple[Loading, Thermal] | None:
    """Returns what a load must keep to that does the step, or None where no load may do it."""
    dwell = step.dwell
    if dwell is None or dwell.loading is None or dwell.thermal is None:
        return None
    return dwell.loading, dwell.thermal


def machine_may(scene: Scene, machine: Instrument) -> list[Reason]:
    """Returns why the machine may not run a load today (W01, M02)."""
    facts: dict[str, Fact] = {"machine": machine.instrument or "none"}
    if machine.sort != WASHER:
        return [Reason("W01", "not-a-machine", facts)]
    if machine.faulty:
        return [Reason("M02", "instrument-faulty", {"instrument": machine.instrument, "sort": machine.sort})]
    over = machine.verified_until_us is None or machine.verified_until_us <= scene.bench.now_us
    if over or scene.bench.last_day != scene.bench.local_day:
        return [Reason("W01", "no-daily-test", facts, role="supervisor")]
    return []


def may_open(scene: Scene, load: Load, machine: Instrument, programme: str) -> list[Reason]:
    """Returns why a load may not be made up (A01, W01)."""
    reasons = [*competence.known(scene.bench), *machine_may(scene, machine)]
    if load.known:
        reasons.append(Reason("W01", "load-known", {"load": load.load}))
    if machine.sort == WASHER and programme not in machine.programmes:
        known = sorted(machine.programmes) or ["none"]
        reasons.append(
            Reason("W01", "no-programme", {"machine": machine.instrument, "programme": programme, "known": known})
        )
    return reasons


def may_add(at_item: Scene, load: Load) -> list[Reason]:
    """Returns why an item may not go into the load: where it is, its order, its heat (W02, W05, P01, H04, A02)."""
    item, workflow = at_item.item, at_item.as_part().workflow
    step = step_of(workflow, item)
    if item.load is not None:
        return [Reason("W05", "in-a-load", {"item": item.item, "load": item.load.load})]
    if item.custody is not None:
        return [Reason("W05", "not-here", {"item": item.item, "place": item.custody.place})]
    if step is None:
        return [Reason("W02", "not-for-loads", {"item": item.item, "item_kind": item.item_kind})]
    return [
        *competence.may_do(at_item, step),
        *sequence.in_order(at_item, step),
        *sequence.right_side(at_item.bench, step),
        *hold.in_the_way(item, release=False),
        *waiting.prompt(step, item, at_item.bench).reasons,
        *_clock_runs(at_item),
        *_bears(item, step, load),
    ]


def _clock_runs(at_item: Scene) -> list[Reason]:
    running = at_item.item.dwell
    if running is None:
        return []
    left = contact.clock_of(running, at_item.bench.moment).left_s
    return [Reason("P01", "clock-runs", {"step": running.step, "left": left})]


def _bears(item: Standing, step: Step, load: Load) -> list[Reason]:
    terms = terms_of(step)
    if terms is None or Decimal(load.hottest_c) <= terms[0].hottest_c:
        return []
    facts: dict[str, Fact] = {
        "item": item.item,
        "most": str(terms[0].hottest_c),
        "programme": load.programme,
        "hottest": load.hottest_c,
    }
    return [Reason("W02", "too-hot", facts)]


def as_loaded(part: Part, load: Load) -> bool:
    """Tells whether an item is still what went into the load: in that cycle, bound to it, its step still to be done.

    An item of which that step was told to have failed meanwhile is not.
    """
    item = part.standing
    if item.load is None or item.load.load != load.load or item.cycle != load.items.get(item.item):
        return False
    step = part.workflow.step_named(item.load.step)
    if step is None or step.step in item.satisfied or item.stage in ASIDE or item.load.failed:
        return False
    return set(part.workflow.needed_before(step, item.contamination_class)) <= item.satisfied.keys()


def may_start(scene: Scene, load: Load, machine: Instrument) -> list[Reason]:
    """Returns why the machine may not start with this load (W01, W03)."""
    reasons = [*competence.known(scene.bench), *machine_may(scene, machine)]
    if machine.running is not None:
        reasons.append(Reason("W01", "machine-runs", {"machine": machine.instrument, "load": machine.running}))
    if not load.items:
        reasons.append(Reason("W01", "load-empty", {"load": load.load}))
    changed = sorted(name for name in load.items if not as_loaded(scene.parts[name], load))
    if changed:
        reasons.append(Reason("W03", "changed-since-loaded", {"items": changed}))
    return reasons


@dataclass(frozen=True, slots=True)
class Told:
    """Is what was told about a cycle: the record as read, readings, answers and indicators, known ones included."""

    record: LoggerRecord | None
    readings: Mapping[str, str]
    checks: Mapping[str, bool]
    indicators: Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class Judged:
    """Is what the parameters of a load come to, for all kinds of item in it.

    Attributes:
        unread: what cannot be taken as given and is asked again.
        missing: readings and answers that were not given.
        waiting: indicators without a result (G11).
        failed: what is out of its limits; one is enough for the load not to pass (W06).
        doses: the dose for each floor and sampling rule that an item's workflow asks for.
        limits: the limits that were used, as text.
    """

    unread: tuple[Reason, ...]
    missing: tuple[Reason, ...]
    waiting: tuple[Reason, ...]
    failed: tuple[Reason, ...]
    doses: tuple[Dose, ...]
    limits: dict[str, str]


def judge(load: Load, parts: Iterable[Part], told: Told) -> Judged:
    """Returns what the parameters come to; a load is as good as the strictest of its items asks."""
    kinds = _kinds(parts, load)
    unread = _strangers([step for _, step in kinds], told)
    missing: list[Reason] = []
    waits: list[Reason] = []
    failed: list[Reason] = []
    doses: dict[tuple[str, str], Dose] = {}
    limits: dict[str, str] = {}
    for _, step in kinds:
        terms = terms_of(step)
        if terms is None:
            continue
        lines = _lines(step, told)
        unread += lines.unread
        missing += lines.missing
        failed += [reason for reason, _ in lines.failed]
        limits |= lines.limits
        waits += _indicators(terms[0], told)
        _dose(terms[1], told, doses, failed)
    failed += [
        Reason("W06", "indicator-failed", {"indicator": name}) for name, good in told.indicators.items() if not good
    ]
    return Judged(tuple(unread), tuple(missing), tuple(waits), tuple(failed), tuple(doses.values()), limits)


def _kinds(parts: Iterable[Part], load: Load) -> list[tuple[Part, Step]]:
    """Returns one item of each workflow version and step that the load does."""
    found: dict[tuple[str, str], tuple[Part, Step]] = {}
    for part in parts:
        step = _loaded_step(part, load)
        if step is not None:
            found.setdefault((part.digest, step.step), (part, step))
    return list(found.values())


def _loaded_step(part: Part, load: Load) -> Step | None:
    bound = part.standing.load
    if bound is None or bound.load != load.load:
        return None
    return part.workflow.step_named(bound.step)


def _lines(step: Step, told: Told) -> reading.Judged:
    checks = {one.check: told.checks[one.check] for one in step.checks if one.check in told.checks}
    readings = {one.reading: told.readings[one.reading] for one in step.readings if one.reading in told.readings}
    return reading.judge(step, checks, readings, {}, None)


def _strangers(steps: list[Step], told: Told) -> list[Reason]:
    known = {one.reading for step in steps for one in step.readings}
    known |= {one.check for step in steps for one in step.checks}
    names = [*told.readings, *told.checks]
    listed = sorted(known) or ["none"]
    return [Reason("M08", "not-asked", {"name": name, "known": listed}) for name in names if name not in known]


def _indicators(loading: Loading, told: Told) -> list[Reason]:
    wanted = [name for name in loading.indicators if name not in told.indicators]
    return [Reason("G11", "indicator-missing", {"indicator": name}) for name in wanted]


def _dose(thermal: Thermal, told: Told, doses: dict[tuple[str, str], Dose], failed: list[Reason]) -> None:
    if told.record is None:
        return
    dose = a0(told.record.trace, floor_c=float(thermal.floor_c), sampling=Sampling(thermal.sampling))
    text = f"{dose.equivalent_s:.1f}"
    doses[str(thermal.floor_c), thermal.sampling] = Dose(text, str(thermal.floor_c), thermal.sampling)
    if not dose.reaches(thermal.a0_least_s):
        short: dict[str, Fact] = {"dose": text, "least": thermal.a0_least_s, "sampling": thermal.sampling}
        failed.append(Reason("W06", "dose-short", short))


def belongs(scene: Scene, load: Load, record: LoggerRecord) -> list[Reason]:
    """Returns why a record cannot be of this load: longer than its cycle, or of another time (W07)."""
    if load.started is None:
        return []
    stopped = load.ended or scene.bench.moment
    span = elapsed(load.started, stopped)
    lasted_s, ran_s = record.lasted_s, _ran_us(span) / SECOND_US
    reasons = []
    if lasted_s > ran_s + RECORD_OVER_S:
        facts: dict[str, Fact] = {"lasted": f"{lasted_s:.0f}", "ran": f"{ran_s:.0f}"}
        reasons.append(Reason("W07", "record-too-long", facts))
    off_us = LOGGER_OFF_S * SECOND_US
    first_us = round(record.trace.samples[0].at_s * SECOND_US)
    last_us = round(record.trace.samples[-1].at_s * SECOND_US)
    early, late = first_us < load.started.wall_us - off_us, last_us > stopped.wall_us + off_us
    if record.instants and (early or late):
        reasons.append(Reason("W07", "record-of-another-time", {"at_us": first_us}))
    return reasons


def _ran_us(span: Elapsed) -> int:
    """Returns how long the machine can have run: nobody need have watched it, for its record is the evidence.

    A wall clock that was set ahead meanwhile made no cycle longer; across a restart there is no other clock.
    """
    return max(0, span.mono_us + span.unobserved_us if span.same_boot else span.wall_us)


def too_hot(part: Part, load: Load, hottest_c: str) -> str | None:
    """Returns the temperature that an item bears where the record shows more (W02)."""
    step = _loaded_step(part, load)
    terms = terms_of(step) if step is not None else None
    if terms is None or Decimal(hottest_c) <= terms[0].hottest_c:
        return None
    return str(terms[0].hottest_c)


def gate(scene: Scene) -> list[Reason]:
    """Returns the loads for which an item cannot be released: it is in one, or one of its cycle did not pass (G11)."""
    item = scene.item
    if item.load is not None:
        return [Reason("G11", "in-a-load", {"item": item.item, "load": item.load.load})]
    reasons = []
    for name in sorted({one.load for one in item.satisfied.values() if one.load is not None}):
        load = scene.states.get(stream(StreamKind.LOAD, name))
        if not isinstance(load, Load) or load.state != LoadState.PASSED:
            reasons.append(Reason("G11", "load-not-passed", {"load": name}))
        elif load.miscounted:
            reasons.append(Reason("G11", "load-miscounted", {"load": name}))
        else:
            reasons += [Reason("G11", "indicator-missing", {"indicator": one}) for one in load.awaits]
    return reasons
