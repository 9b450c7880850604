"""The end of a load: its record is read, judged, and counts for its items, or it awaits what is missing (W06-W08)."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine import load_failing
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.load_failing import Failure
from reprocess.engine.loads import able, at_item, load_of, machine_of, on_load, on_machine, unknown
from reprocess.engine.request import EndLoad, FailLoad
from reprocess.errors import WrongUseError
from reprocess.quantities.logger import BadLogger, LoggerRecord, read_logger
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.loads import Load, LoadState
from reprocess.rules import competence, hold, instrument, loads
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.loads import Judged, Told
from reprocess.rules.scene import Part, Scene
from reprocess.terms import StreamKind, stream

SEEN: Final = frozenset({"indicator-failed", "check-failed"})
"""What somebody saw to be bad is a fact, whatever else was told with it that cannot be taken (W06)."""
FAIL_CAUSES: Final = ("indicator", "calibration", "cycle", "power", "record", "other")


@dataclass(frozen=True, slots=True)
class _Ending:
    """Is one end of a load as it is judged.

    Attributes:
        load: the load as it is once the end is on record.
        drafts: the entries by which the machine stopped, where it had not yet.
        told: what is known of the cycle, earlier and now.
        digest: the digest of the record that was given now, or None.
    """

    scene: Scene
    request: EndLoad
    load: Load
    drafts: list[Draft]
    told: Told
    digest: str | None

    @property
    def about(self) -> str:
        """Returns the load's stream."""
        return stream(StreamKind.LOAD, self.load.load)

    @property
    def parts(self) -> list[Part]:
        """Returns the items of the load that are still as they went in, by id."""
        found = (self.scene.parts[name] for name in sorted(self.load.items) if name in self.scene.parts)
        return [part for part in found if loads.as_loaded(part, self.load)]


def end(scene: Scene, request: EndLoad) -> Decision:
    """Decides what the end of a load comes to: passed, failed, or still awaiting its parameters."""
    about = stream(StreamKind.LOAD, request.load)
    load = load_of(scene, request.load)
    if not load.known:
        return unknown(scene, request, request.load)
    if scene.bench.special.sender not in (None, load.machine):
        told = [Reason("W01", "not-its-load", {"load": load.load, "machine": load.machine})]
        return deciding.refuse(scene, request, told, about=about)
    if load.state == LoadState.PASSED and not all(request.indicators.values()):
        bad = sorted(name for name, good in request.indicators.items() if not good)
        return _fails(scene, request, load, Failure("W06", "indicator", f"indicator {', '.join(bad)}"), [])
    if load.state == LoadState.PASSED and set(load.awaits) & set(request.indicators):
        return _indicators_read(scene, request, load)
    if load.state not in (LoadState.RUNNING, LoadState.ENDED):
        told = [Reason("W07", "load-not-running", {"load": load.load, "state": load.state})]
        return deciding.refuse(scene, request, told, about=about)
    read = read_logger(request.record) if request.record is not None else None
    at = _ending(scene, request, load, read if isinstance(read, LoggerRecord) else None)
    if request.interrupted and not request.resumed:
        because = "the cycle was interrupted"
        return _fails(scene, request, load, Failure("W08", "power", because), at.drafts)
    return _judged(at, read if isinstance(read, BadLogger) else None)


def _ending(scene: Scene, request: EndLoad, load: Load, record: LoggerRecord | None) -> _Ending:
    drafts: list[Draft] = []
    after = load
    if load.state == LoadState.RUNNING:
        body = words.LoadEnded(interrupted=request.interrupted, resumed=request.resumed)
        drafts = [on_load(load.load, body), on_machine(load.machine, words.MachineStopped(load=load.load))]
        after = replace(load, state=LoadState.ENDED, ended=scene.bench.moment)
    elif request.interrupted and load.resumed != request.resumed:
        drafts = [on_load(load.load, words.LoadEnded(interrupted=True, resumed=request.resumed))]
    told = Told(
        record,
        {**load.readings, **request.readings},
        {**load.checks, **request.checks},
        {**load.indicators, **request.indicators},
    )
    digest = hashlib.sha256((request.record or "").encode()).hexdigest() if record is not None else None
    return _Ending(scene, request, after, drafts, told, digest)


def _judged(at: _Ending, bad: BadLogger | None) -> Decision:
    """Returns the decision of a load whose parameters are all, partly or not there."""
    parts = [part for name, part in sorted(at.scene.parts.items()) if name in at.load.items]
    judged = loads.judge(at.load, parts, at.told)
    doubts = _doubts(at, bad)
    unusable = [*doubts, *judged.unread]
    failed = [one for one in judged.failed if not unusable or one.key in SEEN]
    if failed:
        kept = [*at.drafts, *([] if unusable else _recorded(at, judged))]
        return _fails(at.scene, at.request, at.load, Failure("W06", "record", _because(failed[0])), kept, failed)
    known = at.told.record is not None or at.load.record is not None
    awaited = [] if known or bad is not None else [Reason("W07", "awaiting-record", {"load": at.load.load})]
    lacking = [*awaited, *(judged.missing if known else ()), *judged.waiting]
    if unusable:
        return deciding.refuse(at.scene, at.request, [*unusable, *lacking], facts=at.drafts, about=at.about)
    if known and not judged.missing:
        if not judged.waiting or (parts and all(part.workflow.early_release for part in parts)):
            return _passed(at, judged)
        at.drafts.extend(_recorded(at, judged))
    elif known and _of_the_machine(at):
        at.drafts.extend(_recorded(at, judged))  # nobody has its file at hand when a person brings what is missing
    if not at.drafts:
        return deciding.refuse(at.scene, at.request, lacking, about=at.about)
    return deciding.found(at.scene, at.request, at.drafts, lacking, (), about=at.about)


def _because(reason: Reason) -> str:
    names: dict[str, str] = {
        "dose-short": "A0 {dose} s of {least} s",
        "indicator-failed": "indicator {indicator}",
        "reading-out": "{reading} {value}",
        "check-failed": "{defect}",
    }
    return names.get(reason.key, reason.key).format_map(reason.facts)


def _doubts(at: _Ending, bad: BadLogger | None) -> list[Reason]:
    """Returns why what was told of the cycle cannot be taken: unreadable, of another cycle, by whom, with what."""
    scene, request, load = at.scene, at.request, at.load
    reasons = [] if _of_the_machine(at) else [*competence.known(scene.bench), *able(scene, load)]
    if bad is not None:
        reasons.append(Reason("M08", "trace-unreadable", {"because": bad.sentence}))
    if at.told.record is None:
        return reasons + (_by_hand(at) if load.source == "strip-chart" else [])
    reasons += loads.belongs(scene, load, at.told.record)
    if at.digest != load.record and at.digest in machine_of(scene, load.machine).records:
        reasons.append(Reason("W07", "record-used", {"machine": load.machine}))
    if request.by_hand:
        return reasons + _by_hand(at)
    for part in at.parts[:1]:
        step = part.workflow.step_named(part.standing.load.step) if part.standing.load is not None else None
        reasons += instrument.believable(scene, step, request.logger) if step is not None else []
    return reasons


def _of_the_machine(at: _Ending) -> bool:
    """Tells whether the load's own machine sent what its logger recorded; whoever started it was judged then (A02)."""
    bench = at.scene.bench
    return bench.actor is None and bench.special.sender == at.load.machine and not at.request.by_hand


def _by_hand(at: _Ending) -> list[Reason]:
    """Returns what a strip chart that was typed in lacks: a second person who can judge it too (W07, A02)."""
    second = at.scene.bench.second
    if second is None:
        return [Reason("W07", "two-must-read", {})]
    reasons: dict[str, Reason] = {}
    for part in at.parts:
        bound = part.standing.load
        step = part.workflow.step_named(bound.step) if bound is not None else None
        kind = part.standing.item_kind
        if step is None or second.may(step.competency_needed, kind, at.scene.bench.now_us):
            continue
        facts: dict[str, Fact] = {"name": second.name, "step": step.step, "item_kind": kind}
        reasons[kind] = Reason("A02", "competency-missing", facts, competency=step.competency_needed, item_kind=kind)
    return list(reasons.values())


def _recorded(at: _Ending, judged: Judged) -> list[Draft]:
    """Returns the entries that keep a record which was given now, or indicators that came later."""
    record, load = at.told.record, at.load
    if record is not None and at.digest is not None:
        samples = record.trace.samples
        body = words.LoadRecorded(
            source="strip-chart" if at.request.by_hand else "logger",
            record=at.digest,
            samples=len(samples),
            lasted_s=int(record.lasted_s),
            lowest_c=record.lowest_c,
            hottest_c=record.hottest_c,
            gap_s_max=record.gap_s_most,
            doses=judged.doses,
            logger=at.request.logger,
            readings=dict(at.told.readings),
            checks=dict(at.told.checks),
            indicators=dict(at.told.indicators),
        )
        stopped = words.MachineStopped(load=load.load, record=at.digest)
        return [on_load(load.load, body), on_machine(load.machine, stopped), *_kept(at, at.digest)]
    return []


def _kept(at: _Ending, digest: str) -> list[Draft]:
    """Returns the entry that names the record's file, where it was kept."""
    if at.request.file is None:
        return []
    size = len((at.request.record or "").encode())
    body = words.FileKept(digest=digest, name=at.request.file, media_type="text/csv", size=size, about=at.about)
    return [deciding.on_site(at.scene.bench, body)]


def _passed(at: _Ending, judged: Judged) -> Decision:
    """Records a load that passed, and for each of its items that the step is done (W06, G11)."""
    load, parts = at.load, at.parts
    names = tuple(part.standing.item for part in parts)
    left_out = tuple(sorted(set(load.items) - set(names)))
    drafts = [*at.drafts, *_recorded(at, judged)]
    awaits = tuple(sorted({str(one.facts["indicator"]) for one in judged.waiting}))
    drafts.append(on_load(load.load, words.LoadPassed(items=names, left_out=left_out, awaits=awaits or None)))
    hot: list[str] = []
    for part in parts:
        own = _satisfied(at, part, judged)
        drafts += own
        hot += [part.standing.item] if len(own) > 1 else []
    drafts += [
        load_failing.fell(at.scene.parts[name], load.load, "W03", f"it was not as it went into {load.load}", ())
        for name in left_out
        if name in at.scene.parts and _bound(at.scene.parts[name], load)
    ]
    warnings = [Reason("W03", "left-out", {"items": list(left_out)})] if left_out else []
    warnings += judged.waiting
    if hot:
        told = Reason("W02", "was-too-hot", {"items": hot})
        return deciding.found(at.scene, at.request, drafts, [told], (), about=at.about)
    return deciding.accept(at.scene, at.request, drafts, warnings=warnings, about=at.about)


def _indicators_read(scene: Scene, request: EndLoad, load: Load) -> Decision:
    """Decides that indicators were read, and were good, of a load that had passed ahead of them (G11)."""
    about = stream(StreamKind.LOAD, load.load)
    names = [name for name in load.items if name in scene.parts]
    reasons = competence.known(scene.bench)
    for name in names:
        part = scene.parts[name]
        rests = [step for step, one in part.standing.satisfied.items() if one.load == load.load]
        found = [part.workflow.step_named(step) for step in rests]
        reasons += [one for step in found if step is not None for one in competence.may_do(at_item(scene, part), step)]
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    left = tuple(one for one in load.awaits if one not in request.indicators)
    body = words.LoadPassed(items=tuple(sorted(names)), awaits=left or None)
    return deciding.accept(scene, request, [on_load(load.load, body)], about=about)


def _bound(part: Part, load: Load) -> bool:
    return part.standing.load is not None and part.standing.load.load == load.load


def _satisfied(at: _Ending, part: Part, judged: Judged) -> list[Draft]:
    """Returns the entry by which a load satisfies an item's step, and a hold where it got too hot for the item."""
    item, load = part.standing, at.load
    step = part.workflow.step_named(item.load.step) if item.load is not None else None
    terms = loads.terms_of(step) if step is not None else None
    if step is None or terms is None:
        return []
    record = at.told.record
    lasted_s = int(record.lasted_s) if record is not None else load.lasted_s
    seen_c = record.hottest_c if record is not None else load.seen_c
    source = ("strip-chart" if at.request.by_hand else "logger") if record is not None else load.source
    doses = judged.doses or load.doses
    asked = (str(terms[1].floor_c), terms[1].sampling)
    body = words.DwellEnded(
        step=step.step,
        stage=deciding.stage_after(at_item(at.scene, part), step),
        evidence="imported" if source == "logger" else "attested",
        proven_s=lasted_s,
        least_s=1,
        greatest_seen_s=lasted_s,
        dose_a0_s=next((one.a0_s for one in doses if (one.floor_c, one.sampling) == asked), None),
        readings={one.reading: at.told.readings[one.reading] for one in step.readings},
        checks={one.check: at.told.checks[one.check] for one in step.checks},
        limits={**judged.limits, "a0_s": f"{terms[1].a0_least_s}.."},
        load=load.load,
        instrument=at.request.logger if record is not None else load.logger,
    )
    drafts = [on_item(item.item, body)]
    most_c = loads.too_hot(part, load, seen_c)
    if most_c is not None:
        cause = f"{load.load} reached {seen_c} degC, it bears {most_c} degC"
        name = deciding.hold_id(item, "over-exposed", 2)
        drafts.append(on_item(item.item, hold.placed(name, "over-exposed", "W02", cause, "supervisor")))
    return drafts


def _fails(
    scene: Scene,
    request: EndLoad | FailLoad,
    load: Load,
    failure: Failure,
    before: list[Draft],
    why: list[Reason] | None = None,
) -> Decision:
    """Records a load that did not pass, with what it reaches."""
    drafts, reasons = load_failing.failed(scene, load, failure)
    about = stream(StreamKind.LOAD, load.load)
    return deciding.found(scene, request, [*before, *drafts], [*(why or []), *reasons], (), about=about)


def fail(scene: Scene, request: FailLoad) -> Decision:
    """Records the fact that a load did not pass, or did not after all; never refused (W06, W08).

    Raises:
        WrongUseError: the cause is none that a load can have.
    """
    if request.cause not in FAIL_CAUSES:
        message = f"A load fails because of one of {', '.join(FAIL_CAUSES)}, not {request.cause}."
        raise WrongUseError(message, cause=request.cause)
    load = load_of(scene, request.load)
    about = stream(StreamKind.LOAD, request.load)
    if not load.known:
        return unknown(scene, request, request.load)
    if load.state == LoadState.FAILED:
        noted = words.FactNoted(subject=about, asked=request.asked, words={"cause": request.cause})
        told = Reason("W06", "failed-already", {"load": load.load, "because": load.failed_because or ""})
        return deciding.found(scene, request, [on_load(load.load, noted)], [told], (), about=about)
    interrupted = request.cause == "power" and load.state in (LoadState.RUNNING, LoadState.ENDED)
    failure = Failure("W08" if interrupted else "W06", request.cause, request.note)
    return _fails(scene, request, load, failure, [])
