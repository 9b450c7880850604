"""Loads of a machine until it starts: its programmes, making a load up, taking items out again, starting."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine import steps
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import AddToLoad, Further, OpenLoad, RemoveFromLoad, SetProgramme, StartLoad
from reprocess.engine.unloading import claim_absent
from reprocess.errors import WrongUseError
from reprocess.quantities.reading import BadReading, read_number
from reprocess.quantities.trace import PLAUSIBLE_C
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.loads import Load, LoadState
from reprocess.record.places import Instrument, Site
from reprocess.rules import competence, hold, loads, waiting
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import DAY_S, StreamKind, stream

PROGRAMME_ROLES: Final = ("supervisor", "programme-administrator", "clinical-engineer")
"""Who says what a machine can do (common practice, no source)."""
ITEMS_MAX: Final = 400
"""Most items of one load (our choice)."""


def on_load(load: str, body: words.Body) -> Draft:
    """Returns a draft for a load's stream."""
    return Draft(stream(StreamKind.LOAD, load), body)


def on_machine(machine: str, body: words.Body) -> Draft:
    """Returns a draft for a machine's stream."""
    return Draft(stream(StreamKind.INSTRUMENT, machine), body)


def load_of(scene: Scene, name: str) -> Load:
    """Returns the load that a request is about."""
    return scene.state(StreamKind.LOAD, name, Load)


def machine_of(scene: Scene, name: str) -> Instrument:
    """Returns the machine of a load."""
    return scene.state(StreamKind.INSTRUMENT, name, Instrument)


def at_item(scene: Scene, part: Part) -> Scene:
    """Returns the scene as it is judged for one item of a load."""
    site = scene.states.get(stream(StreamKind.SITE, part.standing.site))
    return replace(
        scene,
        item=part.standing,
        home=site if isinstance(site, Site) else None,
        workflow=part.workflow,
        digest=part.digest,
        current=part.current,
        current_digest=part.current_digest,
    )


def unknown(scene: Scene, request: Further, load: str) -> Decision:
    """Keeps what was said of a load that is not on record, in the site's stream."""
    about = stream(StreamKind.LOAD, load)
    body = words.FactNoted(subject=about, asked=request.asked, words={})
    told = Reason("W01", "load-unknown", {"load": load})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], (), about=about)


def set_programme(scene: Scene, request: SetProgramme) -> Decision:
    """Decides what a machine can do: two people, one of them with the role."""
    about = stream(StreamKind.INSTRUMENT, request.machine)
    machine = machine_of(scene, request.machine)
    reasons = competence.two_with_role(scene.bench, PROGRAMME_ROLES, "W02", two=True)
    if machine.sort != loads.WASHER:
        reasons.append(Reason("W01", "not-a-machine", {"machine": request.machine}))
    hottest = read_number(request.hottest_c, "degC")
    if isinstance(hottest, BadReading):
        reasons.append(Reason("M08", "not-a-number", {"reading": "hottest_c", "because": hottest.sentence}))
    elif not PLAUSIBLE_C[0] <= hottest <= PLAUSIBLE_C[1]:
        low, high = (str(Decimal(str(edge))) for edge in PLAUSIBLE_C)
        told = {"reading": "hottest_c", "value": request.hottest_c, "least": low, "most": high, "unit": "degC"}
        reasons.append(Reason("M08", "implausible", {**told}))
    if not 0 < request.lasts_s <= DAY_S:
        message = "A programme takes between a second and a day."
        raise WrongUseError(message, lasts_s=request.lasts_s)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.MachineProgrammeSet(programme=request.programme, hottest_c=request.hottest_c, lasts_s=request.lasts_s)
    return deciding.accept(scene, request, [on_machine(request.machine, body)], about=about)


def open_(scene: Scene, request: OpenLoad) -> Decision:
    """Decides whether a load may be made up: a machine that passed today's test, one of its programmes (W01)."""
    about = stream(StreamKind.LOAD, request.load)
    machine = machine_of(scene, request.machine)
    reasons = loads.may_open(scene, load_of(scene, request.load), machine, request.programme)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    programme = machine.programmes[request.programme]
    body = words.LoadOpened(
        machine=request.machine,
        programme=request.programme,
        hottest_c=programme.hottest_c,
        lasts_s=programme.lasts_s,
        site=scene.bench.site.site,
    )
    return deciding.accept(scene, request, [on_load(request.load, body)], about=about)


def add(scene: Scene, request: AddToLoad) -> Decision:
    """Decides whether items may go into a load; one that may not keeps the others of the same scan out too."""
    about = stream(StreamKind.LOAD, request.load)
    load = load_of(scene, request.load)
    if load.state != LoadState.OPEN:
        return deciding.refuse(scene, request, [_not_open(load, request.load)], about=about)
    names = _once(request.items)
    reasons: list[Reason] = []
    drafts: list[Draft] = []
    warnings: list[Reason] = []
    for name in names:
        part = scene.parts.get(name)
        if part is None:
            reasons.append(Reason("P05", "unknown-item", {"item": name}))
            continue
        own, facts = _loaded(scene, load, part)
        reasons += own
        drafts += facts
        warnings += hold.told(part.standing)
    if len(load.items) + len(names) > ITEMS_MAX:
        reasons.append(Reason("W01", "load-full", {"load": load.load, "most": ITEMS_MAX}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    cycles = {name: scene.parts[name].standing.cycle for name in names}
    drafts = [on_load(load.load, words.LoadAdded(items=cycles)), *drafts]
    return deciding.accept(scene, request, drafts, warnings=warnings, about=about)


def _once(items: tuple[str, ...]) -> tuple[str, ...]:
    if not items:
        message = "Name at least one item."
        raise WrongUseError(message)
    return tuple(dict.fromkeys(items))


def _not_open(load: Load, name: str) -> Reason:
    if not load.known:
        return Reason("W01", "load-unknown", {"load": name})
    return Reason("W03", "load-closed", {"load": load.load, "state": load.state})


def _loaded(scene: Scene, load: Load, part: Part) -> tuple[list[Reason], list[Draft]]:
    """Returns (why not, entries) of one item that goes into a load; a late start of cleaning is taken in (T11)."""
    own = at_item(scene, part)
    step = loads.step_of(part.workflow, part.standing)
    facts: list[Draft] = []
    if step is not None and waiting.delay_s(part.workflow, part.standing, scene.bench.now_us) is not None:
        own, facts = steps.before_work(own, step)
    reasons = loads.may_add(own, load)
    if reasons or step is None:
        return reasons, []
    body = words.ItemLoaded(load=load.load, cycle=part.standing.cycle, step=step.step)
    return [], [*facts, on_item(part.standing.item, body)]


def remove(scene: Scene, request: RemoveFromLoad) -> Decision:
    """Decides whether items leave a load: freely before its start, by two people and a recount after it (W03)."""
    about = stream(StreamKind.LOAD, request.load)
    load = load_of(scene, request.load)
    names = _once(request.items)
    strangers = sorted(name for name in names if name not in load.items)
    reasons = competence.known(scene.bench)
    if not load.known:
        reasons.append(Reason("W01", "load-unknown", {"load": request.load}))
    elif strangers:
        reasons.append(Reason("W03", "not-in-load", {"items": strangers, "load": load.load}))
    if not reasons and load.state != LoadState.OPEN:
        return claim_absent(scene, request, load, names)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    drafts = [on_load(load.load, words.LoadRemoved(items=names, cause="removed"))]
    drafts += [on_item(name, words.ItemUnloaded(load=load.load, cause="removed")) for name in names]
    return deciding.accept(scene, request, drafts, about=about)


def start(scene: Scene, request: StartLoad) -> Decision:
    """Decides whether the machine may start: tested today, free, and with what went in still as it was (W01, W03)."""
    about = stream(StreamKind.LOAD, request.load)
    load = load_of(scene, request.load)
    if load.state != LoadState.OPEN:
        return deciding.refuse(scene, request, [_not_open(load, request.load)], about=about)
    reasons = loads.may_start(scene, load, machine_of(scene, load.machine))
    reasons += able(scene, load)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    drafts = [
        on_load(load.load, words.LoadStarted(items=len(load.items))),
        on_machine(load.machine, words.MachineStarted(load=load.load)),
    ]
    return deciding.accept(scene, request, drafts, about=about)


def able(scene: Scene, load: Load) -> list[Reason]:
    """Returns why whoever runs the load may not do the step that it does, for each kind of item in it (A02, S01)."""
    reasons: dict[str, Reason] = {}
    for name in load.items:
        part = scene.parts[name]
        bound = part.standing.load
        step = part.workflow.step_named(bound.step) if bound is not None and bound.load == load.load else None
        for one in competence.may_do(at_item(scene, part), step) if step is not None else ():
            reasons.setdefault(str((one.rule, one.key, one.facts)), one)
    return list(reasons.values())
