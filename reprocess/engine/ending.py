"""Confirming the end of a dwell: met, too early, dried out, over-exposed, spoiled or not seen running."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from reprocess.definitions.model import Step
from reprocess.definitions.times import Dwell
from reprocess.engine import breaking, dwells, steps
from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import EndDwell
from reprocess.quantities.lethality import Sampling, a0
from reprocess.quantities.trace import BadTrace, read_trace
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import OpenDwell
from reprocess.rules import competence, contact, hold, instrument, reading, sequence, solution
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.contact import End, Judgement
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US

TRACE_GAP_S = 60.0
"""Longest time between two samples of a temperature trace that counts as observed (site parameter, our default)."""
TRACE_OVER_S = 2.0
"""How much longer than its dwell a trace may be: what two clocks may differ (design section 3)."""
_NUMBER: Final = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,9})?", re.ASCII)
"""A number of a trace, written out: nothing that two people could read in two ways (M08)."""
NEVER_BY_HALVES = ("wet-contact", "immersion", "thermal")
"""Dwells for which a line answered no is a failure even before the time is up: waiting does not mend it."""


@dataclass(frozen=True, slots=True)
class _Closing:
    """Is the open dwell that a request would confirm, and what the clocks say of it.

    Attributes:
        warm: why the temperature at the end does not do (T07, M08).
        least_s: the least time that governs, never less than at the start.
        facts: entries to write whatever comes of it.
    """

    scene: Scene
    request: EndDwell
    step: Step
    dwell: Dwell
    opened: OpenDwell
    warm: list[Reason]
    least_s: int
    seen: Judgement
    facts: list[Draft]


def end(scene: Scene, request: EndDwell) -> Decision:
    """Decides the confirmation of a dwell's end."""
    opened = scene.item.dwell
    if opened is None or (request.step is not None and request.step != opened.step):
        name = request.step or "a dwell"
        told = [Reason("P01", "no-open-clock", {"step": name, "item": scene.item.item})]
        return deciding.refuse(scene, request, told, step=request.step)
    at = _closing(scene, request, opened)
    broken = _broken(at)
    if broken is not None:
        return broken
    step, dwell, seen = at.step, at.dwell, at.seen
    dose, thermal = dose_of(dwell, request, _lasted_s(seen))
    judged = reading.judge(step, request.checks, request.readings, {}, scene.configuration)
    early = seen.end is End.EARLY and not _aired(at, judged)
    if judged.failed and (not early or dwell.kind in NEVER_BY_HALVES):
        failed = steps.failed(scene, request, step, judged)
        return Decision((*failed.drafts, *at.facts), failed.answer)
    reasons = [
        *([contact.early(opened, seen)] if early else []),
        *competence.may_do(scene, step, as_of_us=dwells.began_us(scene)),
        *sequence.right_side(scene.bench, step),
        *at.warm,
        *thermal,
        *instrument.went_bad(scene, opened.started.wall_us),
        *_unconfirmed(at),
        *judged.unread,
        *judged.missing,
    ]
    if reasons:
        return deciding.refuse(scene, request, reasons, step=step.step, facts=at.facts)
    return _met(at, judged, dose)


def _closing(scene: Scene, request: EndDwell, opened: OpenDwell) -> _Closing:
    step, dwell = dwells.dwell_of(scene, opened.step)
    warm, least_s = _warmth(scene, request, opened, dwell)
    seen = contact.judge(opened, scene.bench.moment, least_s=least_s)
    facts = breaking.anomaly(scene, opened, seen)
    return _Closing(scene, request, step, dwell, opened, warm, least_s, seen, facts)


def _warmth(scene: Scene, request: EndDwell, opened: OpenDwell, dwell: Dwell) -> tuple[list[Reason], int]:
    """Returns why the temperature at the end does not do, and the least time that governs.

    A temperature that was asked for at the start is asked for again. A cooler solution may call for more time; a
    warmer one never for less.
    """
    temp, reasons = contact.temperature(request.temp_c, dwell if opened.temp_c is not None else _no_ceiling(dwell))
    if request.temp_c is None and opened.temp_c is not None and not reasons:
        reasons = [Reason("T07", "temperature-missing", {"least": "", "most": ""})]
    if temp is None or dwell.kind not in sequence.CHEMICAL:
        return reasons, opened.least_s
    times = contact.required(dwell, scene.agent, scene.floor_s, temp)
    if isinstance(times, list):
        return reasons or times, opened.least_s
    return reasons, max(opened.least_s, times.least_s)


def _no_ceiling(dwell: Dwell) -> Dwell:
    return dwell.model_copy(update={"temp_most_c": None})


def _broken(at: _Closing) -> Decision | None:
    """Returns the refusal where the dwell turns out void: wrong temperature, spoiled solution, dried, not seen."""
    if any(one.rule == "T07" and one.key != "temperature-missing" for one in at.warm):
        return _wrong_temperature(at)
    spoiled = _spoiled(at)
    if spoiled is not None and spoiled.key != "expired-mid-soak":
        broken = _break(at, "solution", spoiled.rule)
        return deciding.refuse(at.scene, at.request, [spoiled], step=at.step.step, facts=[broken, *at.facts])
    unseen = at.seen.end is End.UNOBSERVED and not _may_wait(at) and not _may_be_confirmed(at)
    if at.seen.end is End.DRIED or unseen:
        return breaking.by_the_clock(at.scene, at.request, at.opened, at.seen, at.facts)
    return None


def _break(at: _Closing, cause: str, rule: str) -> Draft:
    return on_item(at.scene.item.item, breaking.body_of(at.opened, at.seen, cause, rule))


def _spoiled(at: _Closing) -> Reason | None:
    """Returns what became of the dwell's solution meanwhile (L05, L06), or None."""
    bath, agent = at.scene.solution, at.scene.agent
    if bath is None or agent is None:
        return None
    return solution.meanwhile(bath, agent, at.opened, at.scene.bench.now_us)


def _may_be_confirmed(at: _Closing) -> bool:
    """Tells whether people's word may stand for time that no clock observed: a bath that was left alone (E07)."""
    return at.opened.unobserved == "two-people" and at.request.undisturbed


def _may_wait(at: _Closing) -> bool:
    """Tells whether a soak through which the computer slept goes on: only the time it was awake counts."""
    return at.opened.unobserved == "two-people" and at.seen.span.same_boot


def _wrong_temperature(at: _Closing) -> Decision:
    """Voids a contact that ended outside its temperatures; above the item's ceiling the item is held (T07)."""
    item = at.scene.item
    drafts = [_break(at, "temperature", "T07"), *at.facts]
    if any(one.key == "too-warm" for one in at.warm):
        cause, hold_id = f"solution at {at.request.temp_c} degC", deciding.hold_id(item, "over-exposed")
        drafts.append(on_item(item.item, hold.placed(hold_id, "over-exposed", "T07", cause, "supervisor")))
    return deciding.refuse(at.scene, at.request, at.warm, step=at.step.step, facts=drafts)


def _lasted_s(seen: Judgement) -> float:
    """Returns how long a dwell lasted as far as a trace of it can be checked: by the wall where no clock saw it."""
    return max(0, seen.span.wall_us) / SECOND_US if seen.end is End.UNOBSERVED else seen.span.least_us / SECOND_US


def _unconfirmed(at: _Closing) -> list[Reason]:
    """Returns what two people's word still lacks where nobody saw the clock all the time (E07)."""
    if at.seen.end is not End.UNOBSERVED:
        return []
    if not _may_be_confirmed(at):
        return [contact.early(at.opened, at.seen)]
    reasons = []
    if at.scene.bench.second is None:
        reasons.append(Reason("E07", "two-must-confirm", {"step": at.step.step}))
    else:
        reasons += _second_competent(at)
    reasons += _starter_speaks(at)
    wall_us = 0 if at.seen.span.anomaly else at.seen.span.wall_us
    left = -(-max(0, at.least_s * SECOND_US - wall_us) // SECOND_US)
    if left:
        told: dict[str, Fact] = {"step": at.step.step, "left": left, "least": at.least_s, "proven": 0}
        reasons.append(Reason("T01", "too-early", told, wait_s=left))
    return reasons


def _starter_speaks(at: _Closing) -> list[Reason]:
    """Returns that neither of the two put the item into the bath: only who did knows how it was left (E07)."""
    bench, starter = at.scene.bench, at.opened.actor
    here = {one.person for one in (bench.actor, bench.second) if one is not None}
    if starter is None or starter in here:
        return []
    return [Reason("E07", "starter-must-confirm", {"step": at.step.step, "by": starter})]


def _second_competent(at: _Closing) -> list[Reason]:
    """Returns why the second person's word does not count: what they confirm they must be able to judge (A02)."""
    second, kind = at.scene.bench.second, at.scene.item.item_kind
    needed = at.step.competency_needed
    if second is None or second.may(needed, kind, at.scene.bench.now_us):
        return []
    facts: dict[str, Fact] = {"name": second.name, "step": at.step.step, "item_kind": kind}
    return [Reason("A02", "competency-missing", facts, competency=needed, item_kind=kind)]


def dose_of(dwell: Dwell, request: EndDwell, lasted_s: float) -> tuple[str | None, list[Reason]]:
    """Returns the A0 of a thermal dwell as text, and why it is not enough or cannot be believed (T01, M08)."""
    thermal = dwell.thermal
    if thermal is None:
        return None, []
    if not all(_NUMBER.fullmatch(one) for sample in request.trace for one in sample):
        return None, [Reason("M08", "trace-unreadable", {"because": "it holds what is no number."})]
    samples = [(float(at), float(temp)) for at, temp in request.trace]
    trace = read_trace(samples, gap_s_max=TRACE_GAP_S)
    if isinstance(trace, BadTrace):
        return None, [Reason("M08", "trace-unreadable", {"because": trace.sentence})]
    spans_s = samples[-1][0] - samples[0][0]
    if spans_s > lasted_s + TRACE_OVER_S:
        because = f"it lasts {spans_s:.0f} s, the dwell {lasted_s:.0f} s."
        return None, [Reason("M08", "trace-unreadable", {"because": because})]
    dose = a0(trace, floor_c=float(thermal.floor_c), sampling=Sampling(thermal.sampling))
    text = f"{dose.equivalent_s:.1f}"
    if dose.reaches(thermal.a0_least_s):
        return text, []
    short: dict[str, Fact] = {"dose": text, "least": thermal.a0_least_s, "sampling": thermal.sampling}
    return text, [Reason("T01", "dose-short", short)]


def _aired(at: _Closing, judged: reading.Judged) -> bool:
    """Tells whether a residual within its limit ends an aeration before its time (T10)."""
    named = "residual_ppm" in at.request.readings
    return at.dwell.kind == "aeration" and named and not judged.failed and not judged.unread


def _met(at: _Closing, judged: reading.Judged, dose: str | None) -> Decision:
    """Records a dwell that was met, with a hold where it ran past its longest time (T06, E02)."""
    scene, request, step, seen = at.scene, at.request, at.step, at.seen
    expired = _spoiled(at)
    warnings = [*hold.told(scene.item), *([expired] if expired is not None else []), *_stepped(at)]
    body = words.DwellEnded(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        evidence="attested" if seen.end is End.UNOBSERVED else "measured",
        proven_s=seen.proven_s,
        least_s=at.least_s,
        greatest_seen_s=seen.greatest_s,
        over_exposed=seen.over,
        temp_c=request.temp_c,
        dose_a0_s=dose,
        readings=request.readings,
        checks=request.checks,
        limits=judged.limits,
        warned=tuple(one.rule for one in warnings),
    )
    drafts = [on_item(scene.item.item, body), *at.facts]
    if not seen.over:
        return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)
    return over_exposed(scene, request, step, (seen.greatest_s, at.opened.greatest_s or 0), drafts)


def _stepped(at: _Closing) -> list[Reason]:
    """Returns that the wall clock was moved while the dwell ran, which took nothing away and gave nothing (D04)."""
    if not at.seen.span.anomaly:
        return []
    by_s = (at.seen.span.wall_us - at.seen.span.mono_us) // SECOND_US
    return [Reason("D04", "clock-stepped", {"step": at.step.step, "by": by_s})]


def over_exposed(
    scene: Scene, request: EndDwell, step: Step, seen_and_most_s: tuple[int, int], drafts: list[Draft]
) -> Decision:
    """Returns the decision that holds an item which was in contact for too long; the contact itself is met (T06)."""
    seen_s, most_s = seen_and_most_s
    cause = f"{step.step} ran {seen_s} s, longest {most_s} s"
    sort = "defect" if seen_s > 2 * most_s else "over-exposed"
    held = hold.placed(deciding.hold_id(scene.item, sort), sort, "T06", cause, "supervisor")
    told = Reason("T06", "over-exposed", {"seen": seen_s, "most": most_s})
    return deciding.found(scene, request, [*drafts, on_item(scene.item.item, held)], [told], (), step=step.step)
