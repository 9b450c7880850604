"""Taking back a mis-scan (E14) and correcting a record (D01): both keep what was written."""

from __future__ import annotations

from typing import Final, Literal

from reprocess.definitions.lines import Failing
from reprocess.engine import decision as deciding
from reprocess.engine import steps
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.dwells import BREAK_CAUSES
from reprocess.engine.request import Correct, Undo
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.moment import elapsed
from reprocess.rules import competence, reading
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US, Stage

UNDO_S: Final = 60
"""A mis-scan may be undone within this time by the same person (E14)."""
UNDOABLE: Final = (
    "item-contaminated",
    "item-released",
    "step-done",
    "dwell-ended",
    "dwell-started",
    "dwell-wetted",
    "dwell-broken",
)
"""What a scan can have been; where it wrote several of them, the first in this order is what it was."""
PULLED_ALONG: Final = frozenset({"clock-anomaly", "delay-found", "steps-fell"})
"""Entries of the same scan that are taken back with it."""
SCANNED: Final = frozenset({"T04", "P02"})
"""The rules under which somebody's scan breaks a contact. What the clock, the temperature or the solution broke stays
broken: no mis-scan brings it back."""


NOT_CORRECTED: Final = (words.EntryCorrected, words.EntryUndone, words.AssemblyBuilt)
"""What is corrected elsewhere: an assembly by its assembling step, a correction by the entry it is about."""
STATED: Final = frozenset(BREAK_CAUSES) - {"moved"}
"""Breaks that somebody stated: the film was seen dry, the part rinsed. That is physics, not a mis-scan (T04)."""


def undo(scene: Scene, request: Undo) -> Decision:
    """Decides an undo: the latest scan of the item, by the same person, within 60 s, with nothing resting on it."""
    item, bench = scene.item, scene.bench
    last = _last(scene)
    reasons = competence.known(bench)
    main = _main(last)
    if main is None:
        kind = last[0].kind if last else "nothing"
        reasons.append(Reason("E14", "cannot-undo", {"kind": kind}, role="supervisor"))
    elif main.kind == "item-contaminated" and (item.members or not _was_not_ready(scene, main)):
        reasons.append(Reason("E14", "was-ready", {"item": item.item}, role="supervisor"))
    else:
        reasons += _too_late(scene, main)
    if reasons or main is None:
        return deciding.refuse(scene, request, reasons)
    body = words.EntryUndone(
        number=main.number,
        undone_kind=main.kind,
        numbers=tuple(entry.number for entry in last),
    )
    return deciding.accept(scene, request, [on_item(item.item, body)])


def _last(scene: Scene) -> list[Entry]:
    """Returns the entries of the latest scan; that a held item was seen somewhere stands, and is no scan to undo."""
    scans = [entry for entry in scene.recent if not isinstance(entry.body, words.HeldSighted)]
    return [entry for entry in scans if entry.envelope.key == scans[-1].envelope.key]


def _main(last: list[Entry]) -> Entry | None:
    """Returns what the latest scan was, or None where one of its entries must stand."""
    for entry in last:
        broken = entry.body if isinstance(entry.body, words.DwellBroken) else None
        by_load = getattr(entry.body, "load", None) is not None  # what a load did, its record says
        must_stand = by_load or entry.kind not in (*UNDOABLE, *PULLED_ALONG)
        if must_stand or (broken is not None and (broken.rule not in SCANNED or broken.cause in STATED)):
            return None
    found = [entry for entry in last if entry.kind in UNDOABLE]
    return min(found, key=lambda entry: UNDOABLE.index(entry.kind), default=None)


def _too_late(scene: Scene, main: Entry) -> list[Reason]:
    bench = scene.bench
    since = elapsed(main.envelope.moment, bench.moment)
    mine = bench.actor is not None and main.envelope.actor == bench.actor.person
    too_late = not since.same_boot or since.greatest_us > UNDO_S * SECOND_US
    if mine and not too_late:
        return []
    facts: dict[str, str | int | list[str]] = {"by": main.envelope.actor or "nobody", "within": UNDO_S}
    key = "undo-too-late" if too_late else "undo-other-person"
    return [Reason("E14", key, facts, role="supervisor")]


def _was_not_ready(scene: Scene, main: Entry) -> bool:
    """Tells whether the entries before show that the item was not ready; where they do not reach back, it may have."""
    undone = {number for one in scene.recent if isinstance(one.body, words.EntryUndone) for number in one.body.numbers}
    before = [one for one in scene.recent if one.number < main.number and one.number not in undone]
    stages = [str(getattr(entry.body, "stage", "") or "") for entry in before]
    known = [stage for stage in stages if stage]
    return bool(known) and known[-1] != Stage.READY


def correct(scene: Scene, request: Correct) -> Decision:
    """Decides a correction: two people, a reason; the corrected values may make steps fall, never satisfy one."""
    bench = scene.bench
    reasons = competence.known(bench)
    if not reasons and bench.second is None:
        reasons.append(Reason("S06", "second-needed", {"step": "correct"}))
    target = next((entry for entry in scene.recent if entry.number == request.number), None)
    if target is None or isinstance(target.body, NOT_CORRECTED):
        reasons.append(Reason("D01", "nothing-to-correct", {"number": request.number}))
    if reasons or target is None:
        return deciding.refuse(scene, request, reasons)
    fallen, failing, void = _fallen(scene, target, request)
    body = words.EntryCorrected(
        number=request.number,
        reason=request.reason,
        readings=request.readings,
        checks=request.checks,
        counts=request.counts,
        note=request.note,
        stage=fallen.stage,
        fell=fallen.fell,
        void=void,
        mistaken=True if request.mistaken else None,
    )
    drafts = [on_item(scene.item.item, body), *steps.defect_hold(scene, failing)]
    if fallen.fell:
        because = f"entry {request.number} corrected"
        drafts += deciding.whole_falls(scene, scene.item, "D01", because)
    return deciding.accept(scene, request, drafts)


def _fallen(scene: Scene, target: Entry, request: Correct) -> tuple[deciding.Fall, list[Failing], Literal[True] | None]:
    """Returns (what falls, what failed, whether a recurring pass is void) when the corrected values are judged anew.

    A value that is out of its limits has the consequences that it would have had at the time; a value that cannot be
    judged takes its step away.
    """
    item = scene.item
    still = deciding.Fall((), Stage(item.stage))
    name = getattr(target.body, "step", None)
    resting = (item.satisfied.get(str(name)), item.passes.get(str(name)))
    step = scene.step(str(name))
    if target.number not in {one.number for one in resting if one is not None}:
        return still, [], None
    if step is None:  # the version in force lacks the step: nobody can judge its values, so it is no pass
        return still, [], True
    checks = {**getattr(target.body, "checks", {}), **request.checks}
    readings = {**getattr(target.body, "readings", {}), **request.readings}
    counts = {**getattr(target.body, "counts", {}), **request.counts}
    judged = reading.judge(step, checks, readings, counts, scene.configuration)
    if request.mistaken:
        judged = reading.Judged((), (), (), {})
    elif not (judged.failed or judged.unread or judged.missing):
        return still, [], None
    failing = [one for _, one in judged.failed]
    back = {one.back_to or step.step for one in failing} | {step.step}
    void: Literal[True] | None = True if resting[1] is not None and resting[1].number == target.number else None
    return deciding.fall(scene.as_part(), tuple(back)), failing, void
