"""Starting, wetting, breaking and confirming a dwell."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from reprocess.definitions.model import Dwell, Step
from reprocess.engine import decision as deciding
from reprocess.engine import steps
from reprocess.engine.decision import Decision, on_item, on_solution
from reprocess.engine.request import BreakDwell, EndDwell, Rewet, StartDwell
from reprocess.errors import WrongUseError
from reprocess.quantities.lethality import Sampling, a0
from reprocess.quantities.trace import BadTrace, read_trace
from reprocess.record import entry as words
from reprocess.record.entry import Draft
from reprocess.record.standing import OpenDwell
from reprocess.rules import competence, contact, hold, reading, sequence, solution, waiting
from reprocess.rules.answer import Fact, Reason, Verdict
from reprocess.rules.contact import End, Judgement
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US

BREAK_CAUSES = ("dried", "removed", "rinsed", "moved", "opened")
TRACE_GAP_S = 60.0
"""Longest time between two samples of a temperature trace that counts as observed (site parameter, our default)."""


def start(scene: Scene, request: StartDwell) -> Decision:
    """Decides the start of a dwell: who, in which order, in what, at which temperature, for how long."""
    step = _dwell_step(scene, request.step)
    dwell = _dwell(step)
    scene, facts = steps.before_work(scene, step)
    pause = waiting.prompt(step, scene.item, scene.bench)
    temp, warm = contact.temperature(request.temp_c, dwell)
    reasons = [
        *competence.may_do(scene, step),
        *sequence.in_order(scene, step),
        *sequence.right_side(scene.bench, step),
        *hold.in_the_way(scene.item, release=False),
        *pause.reasons,
        *warm,
    ]
    running = scene.item.dwell
    if running is not None and running.step == step.step:
        clock = contact.clock_of(running, scene.bench.moment)
        reasons.append(Reason("P01", "clock-runs", {"step": step.step, "left": clock.left_s}))
    elif running is not None and running.dwell not in sequence.EXCLUSIVE:
        reasons.append(Reason("P01", "clock-runs", {"step": running.step, "left": 0}))
    chemical = dwell.kind in sequence.CHEMICAL
    if chemical:
        reasons += solution.allowed(scene, dwell)
    agent = scene.agent if chemical else None
    times = contact.required(dwell, agent, scene.bench.site.contact_floor_s, temp)
    if isinstance(times, list) and not warm and not (chemical and agent is None):
        reasons += times
    moved, reasons = steps.interrupted(scene, request.step, reasons)
    facts += moved
    if reasons or isinstance(times, list):
        return deciding.refuse(scene, request, reasons, step=step.step, facts=facts)
    attempt = scene.item.restarts + 1
    warnings = [*hold.told(scene.item), *pause.warnings, *_many(scene, dwell, attempt)]
    body = words.DwellStarted(
        step=step.step,
        cycle=scene.item.cycle,
        dwell=dwell.kind,
        attempt=attempt,
        least_s=times.least_s,
        greatest_s=times.greatest_s,
        film_s=times.film_s,
        unobserved=dwell.unobserved,
        agent=agent.agent if agent is not None else None,
        claim=times.claim,
        method=times.method,
        solution=scene.solution.solution if chemical and scene.solution is not None else None,
        lot=scene.solution.lot if chemical and scene.solution is not None else None,
        temp_c=request.temp_c,
        source=times.source,
    )
    drafts = [on_item(scene.item.item, body), *facts]
    if chemical and scene.solution is not None:
        touched = words.SolutionTouched(item=scene.item.item, cycle=scene.item.cycle, step=step.step)
        drafts.append(on_solution(scene.solution.solution, touched))
    return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)


def _dwell_step(scene: Scene, name: str) -> Step:
    step = steps.step_or_raise(scene, name)
    if step.dwell is None:
        message = f"{step.step} has no clock; log it as done."
        raise WrongUseError(message, step=name)
    return step


def _dwell(step: Step) -> Dwell:
    if step.dwell is None:
        message = f"{step.step} has no clock."
        raise WrongUseError(message, step=step.step)
    return step.dwell


def _many(scene: Scene, dwell: Dwell, attempt: int) -> list[Reason]:
    most = contact.RESTARTS_MOST if dwell.restarts_most is None else dwell.restarts_most
    if scene.item.restarts <= most:
        return []
    return [Reason("T05", "many-restarts", {"attempt": attempt, "most": most}, role="supervisor")]


def rewet(scene: Scene, request: Rewet) -> Decision:
    """Decides a re-wet scan: accepted while the film was wet, a restart when it may have dried (T03)."""
    opened = scene.item.dwell
    if opened is None:
        none = Reason("T03", "no-clock", {"item": scene.item.item})
        return deciding.refuse(scene, request, [none])
    seen = contact.judge(opened, scene.bench.moment)
    anomaly = _anomaly(scene, opened, seen)
    if seen.end in {End.DRIED, End.UNOBSERVED} and opened.film_s is not None:
        return _broken(scene, request, opened, seen, anomaly)
    reasons = competence.known(scene.bench)
    if reasons:
        return deciding.refuse(scene, request, reasons, step=opened.step, facts=anomaly)
    body = words.DwellWetted(step=opened.step, wet_s=seen.proven_s)
    return deciding.accept(scene, request, [on_item(scene.item.item, body), *anomaly], step=opened.step)


def break_(scene: Scene, request: BreakDwell) -> Decision:
    """Records the fact that a dwell was interrupted; what was covered so far is void (T04, E31)."""
    if request.cause not in BREAK_CAUSES:
        message = f"A dwell is interrupted by one of {', '.join(BREAK_CAUSES)}, not {request.cause}."
        raise WrongUseError(message, cause=request.cause)
    opened = scene.item.dwell
    if opened is None:
        none = Reason("T04", "no-clock", {"item": scene.item.item})
        return deciding.refuse(scene, request, [none])
    seen = contact.judge(opened, scene.bench.moment)
    body = _break_body(opened, seen, request.cause, "T04")
    told = Reason("T04", "broken", {"cause": request.cause, "proven": seen.proven_s})
    drafts = [on_item(scene.item.item, body), *_anomaly(scene, opened, seen)]
    return deciding.found(scene, request, drafts, [told], (), step=opened.step)


def _break_body(opened: OpenDwell, seen: Judgement, cause: str, rule: str) -> words.DwellBroken:
    return words.DwellBroken(step=opened.step, cause=cause, rule=rule, wet_s=seen.proven_s, least_s=opened.least_s)


def _broken(
    scene: Scene,
    request: Rewet | EndDwell,
    opened: OpenDwell,
    seen: Judgement,
    facts: list[Draft],
) -> Decision:
    unseen = seen.end is End.UNOBSERVED
    rule = "E07" if unseen else "T03"
    cause = "clock" if unseen else "gap"
    body = _break_body(opened, seen, cause, rule)
    facts = [on_item(scene.item.item, body), *facts]
    told = Reason(
        rule,
        "unobserved" if unseen else "dried-out",
        {
            "step": opened.step,
            "since_wet": -(-seen.since_wet.greatest_us // SECOND_US),
            "film": opened.film_s or 0,
        },
    )
    return deciding.refuse(scene, request, [told], step=opened.step, facts=facts)


def _anomaly(scene: Scene, opened: OpenDwell, seen: Judgement) -> list[Draft]:
    """Returns the entry for clocks that disagreed, once for each start (design section 3)."""
    if not seen.anomaly or scene.item.anomaly_of == opened.number:
        return []
    span = seen.span if seen.span.anomaly else seen.since_wet
    body = words.ClockAnomaly(
        since_number=opened.number,
        wall_ms=span.wall_us // 1000,
        running_ms=span.mono_us // 1000,
    )
    return [on_item(scene.item.item, body)]


def end(scene: Scene, request: EndDwell) -> Decision:
    """Decides the confirmation of a dwell's end: met, too early, dried out, over-exposed or unobserved."""
    opened = scene.item.dwell
    if opened is None or (request.step is not None and request.step != opened.step):
        name = request.step or "a dwell"
        told = [Reason("P01", "no-open-clock", {"step": name, "item": scene.item.item})]
        return deciding.refuse(scene, request, told, step=request.step)
    step = _dwell_step(scene, opened.step)
    dwell = _dwell(step)
    temp, warm = contact.temperature(request.temp_c, dwell if opened.temp_c is not None else _no_ceiling(dwell))
    least_s, off_label = _least_at_end(scene, opened, dwell, temp)
    seen = contact.judge(opened, scene.bench.moment, least_s=least_s)
    facts = _anomaly(scene, opened, seen)
    if any(one.rule == "T07" and one.key != "temperature-missing" for one in (*warm, *off_label)):
        return _wrong_temperature(scene, request, opened, seen, [*warm, *off_label], facts)
    confirmed = _confirmed(scene, request, opened, seen, least_s)
    if seen.end is End.DRIED or (seen.end is End.UNOBSERVED and confirmed is None):
        return _broken(scene, request, opened, seen, facts)
    dose, thermal = _dose(dwell, request)
    reasons = [
        *competence.may_do(scene, step, as_of_us=_began_us(scene, opened)),
        *(_no_hands_off(hold.in_the_way(scene.item, release=False))),
        *warm,
        *off_label,
        *thermal,
        *(confirmed or ()),
    ]
    judged = reading.judge(step, request.checks, request.readings, {}, scene.configuration)
    if judged.failed and seen.end is End.MET:
        return _failed_end(scene, request, step, judged)
    reasons += [*judged.unread, *judged.missing]
    if seen.end is End.EARLY and not _aired(dwell, request, judged):
        reasons = [contact.early(opened, seen), *reasons]
    if reasons:
        return deciding.refuse(scene, request, reasons, step=step.step, facts=facts)
    return _met(scene, request, step, opened, seen, judged, dose, facts)


def _no_ceiling(dwell: Dwell) -> Dwell:
    return dwell.model_copy(update={"temp_most_c": None})


def _began_us(scene: Scene, opened: OpenDwell) -> int | None:
    """Returns the start of the dwell where the same person ends it, so that they may finish (A05)."""
    actor = scene.bench.actor
    same = actor is not None and opened.actor == actor.person
    return opened.started.wall_us if same else None


def _no_hands_off(held: list[Reason]) -> list[Reason]:
    """Returns no reasons: a dwell that runs may finish under a new hold; only release is barred (E24)."""
    return [one for one in held if one.rule == "G02"]


def _least_at_end(scene: Scene, opened: OpenDwell, dwell: Dwell, temp: Decimal | None) -> tuple[int, list[Reason]]:
    """Returns the least time that governs, never less than at the start, and why the end is off the label (T07)."""
    if temp is None or dwell.kind not in sequence.CHEMICAL:
        needed = opened.temp_c is not None and temp is None
        told = [Reason("T07", "temperature-missing", {"least": "", "most": ""})] if needed else []
        return opened.least_s, told
    times = contact.required(dwell, scene.agent, scene.bench.site.contact_floor_s, temp)
    if isinstance(times, list):
        return opened.least_s, times
    return max(opened.least_s, times.least_s), []


def _wrong_temperature(
    scene: Scene,
    request: EndDwell,
    opened: OpenDwell,
    seen: Judgement,
    told: list[Reason],
    facts: list[Draft],
) -> Decision:
    """Voids a contact that ended outside its temperatures; above the item's ceiling the item is held (T07)."""
    drafts = [on_item(scene.item.item, _break_body(opened, seen, "temperature", "T07")), *facts]
    if any(one.key == "too-warm" for one in told):
        item = scene.item
        body = hold.placed(
            deciding.hold_id(item, "over-exposed"),
            "over-exposed",
            "T07",
            f"solution at {request.temp_c} degC",
            "supervisor",
        )
        drafts.append(on_item(item.item, body))
    return deciding.refuse(scene, request, told, step=opened.step, facts=drafts)


def _confirmed(
    scene: Scene, request: EndDwell, opened: OpenDwell, seen: Judgement, least_s: int
) -> list[Reason] | None:
    """Returns None where time nobody observed voids the dwell, else what two people's word still lacks (E07)."""
    if seen.end is not End.UNOBSERVED:
        return []
    if opened.unobserved != "two-people" or not request.undisturbed:
        return None
    reasons = []
    if scene.bench.second is None:
        reasons.append(Reason("E07", "two-must-confirm", {"step": opened.step}))
    if seen.span.wall_us < least_s * SECOND_US or seen.span.anomaly:
        left = -(-max(0, least_s * SECOND_US - seen.span.wall_us) // SECOND_US)
        reasons.append(
            Reason(
                "T01",
                "too-early",
                {"step": opened.step, "left": left, "least": least_s, "proven": 0},
                wait_s=left,
            )
        )
    return reasons


def _dose(dwell: Dwell, request: EndDwell) -> tuple[str | None, list[Reason]]:
    """Returns the A0 of a thermal dwell as text, and why it is not enough."""
    thermal = dwell.thermal
    if thermal is None:
        return None, []
    try:
        samples = [(float(Decimal(at)), float(Decimal(temp))) for at, temp in request.trace]
    except InvalidOperation:
        return None, [Reason("M08", "trace-unreadable", {"because": "it holds no numbers"})]
    trace = read_trace(samples, gap_s_max=TRACE_GAP_S)
    if isinstance(trace, BadTrace):
        return None, [Reason("M08", "trace-unreadable", {"because": trace.sentence})]
    dose = a0(trace, floor_c=float(thermal.floor_c), sampling=Sampling(thermal.sampling))
    text = f"{dose.equivalent_s:.1f}"
    if dose.reaches(thermal.a0_least_s):
        return text, []
    short: dict[str, Fact] = {"dose": text, "least": thermal.a0_least_s, "sampling": thermal.sampling}
    return text, [Reason("T01", "dose-short", short)]


def _aired(dwell: Dwell, request: EndDwell, judged: reading.Judged) -> bool:
    """Tells whether a residual within its limit ends an aeration before its time (T10)."""
    named = "residual_ppm" in request.readings
    return dwell.kind == "aeration" and named and not judged.failed and not judged.unread


def _failed_end(scene: Scene, request: EndDwell, step: Step, judged: reading.Judged) -> Decision:
    """Records that the look at the end of a dwell failed, such as a tube that is still wet (T09)."""
    opened = scene.item.dwell
    defects = tuple(dict.fromkeys(one.defect for _, one in judged.failed))
    told = [reason for reason, _ in judged.failed]
    part = scene.as_part()
    if part is None or opened is None:
        return deciding.refuse(scene, request, told, step=step.step)
    back = tuple(one.back_to or step.step for _, one in judged.failed)
    fallen = deciding.fall(part, back)
    body = words.StepFailed(
        step=step.step,
        stage=fallen.stage,
        defects=defects,
        fell=fallen.fell,
        route=judged.failed[0][1].route,
        checks=request.checks,
        readings=request.readings,
        limits=judged.limits,
    )
    drafts = [on_item(scene.item.item, body)]
    return deciding.found(scene, request, drafts, told, defects, step=step.step, otherwise=Verdict.REFUSED)


def _met(
    scene: Scene,
    request: EndDwell,
    step: Step,
    opened: OpenDwell,
    seen: Judgement,
    judged: reading.Judged,
    dose: str | None,
    facts: list[Draft],
) -> Decision:
    """Records a dwell that was met, with a hold where it ran past its longest time (T06, E02)."""
    item = scene.item
    unseen = seen.end is End.UNOBSERVED
    warnings = [*hold.told(item), *_bath_warning(scene, opened)]
    body = words.DwellEnded(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        evidence="attested" if unseen else "measured",
        proven_s=seen.proven_s,
        least_s=opened.least_s,
        greatest_seen_s=seen.greatest_s,
        over_exposed=seen.over,
        temp_c=request.temp_c,
        dose_a0_s=dose,
        readings=request.readings,
        checks=request.checks,
        limits=judged.limits,
        warned=tuple(one.rule for one in warnings),
    )
    drafts = [on_item(item.item, body), *facts]
    if not seen.over:
        return deciding.accept(scene, request, drafts, step=step.step, warnings=warnings)
    cause = f"{step.step} ran {seen.greatest_s} s, longest {opened.greatest_s} s"
    sort = "defect" if seen.twice_over else "over-exposed"
    held = hold.placed(deciding.hold_id(item, sort), sort, "T06", cause, "supervisor")
    drafts.append(on_item(item.item, held))
    told = Reason("T06", "over-exposed", {"seen": seen.greatest_s, "most": opened.greatest_s or 0})
    return deciding.found(scene, request, drafts, [told], (), step=step.step)


def _bath_warning(scene: Scene, opened: OpenDwell) -> list[Reason]:
    """Returns the warning for a bath whose calendar life ended during the soak, where policy lets it finish (L05)."""
    bath = scene.solution
    if bath is None or opened.solution is None or bath.expires_us > scene.bench.now_us:
        return []
    return [Reason("L05", "expired-mid-soak", {"solution": bath.solution})]
