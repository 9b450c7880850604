"""Solutions: making up, testing, topping up, ending; and what a failed test reaches (L07)."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Literal, cast, get_args

from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.engine import decision as deciding
from reprocess.engine import exposing
from reprocess.engine import lots as taking
from reprocess.engine.decision import Decision, on_item, on_site, on_solution
from reprocess.engine.request import (
    EndSolution,
    MakeSolution,
    SolutionRequest,
    TestSolution,
    TopUpSolution,
)
from reprocess.errors import WrongUseError
from reprocess.quantities import dilution
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.rules import competence, hold, lots
from reprocess.rules import solution as judging
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Contact, Scene
from reprocess.terms import DAY_S, SECOND_US, Stage, StreamKind, stream, subject_of

FRESH_DAYS = 1
"""In-use life of a bath whose label record says none: made fresh daily (common practice, no source)."""
EndCause = Literal["dumped", "spilled", "empty", "dry", "expired"]
END_CAUSES = get_args(EndCause)


def make(scene: Scene, request: MakeSolution) -> Decision:
    """Records a bath made up or a container opened, with the earliest of its expiries (L01, L02)."""
    agent = _agent(scene, request.agent)
    about = stream(StreamKind.SOLUTION, request.solution)
    strangers = competence.known(scene.bench)
    if strangers:
        return deciding.refuse(scene, request, strangers, about=about)
    bath = scene.solution
    if bath is not None and bath.known and bath.ended is None:
        told = [Reason("L02", "still-in-use", {"solution": request.solution})]
        return deciding.refuse(scene, request, told, about=about)
    now = scene.bench.now_us
    request, warnings = _by_record(scene, request, agent)
    if request.lot_expiry_us <= now and not lots.over(scene, request.lot):
        facts: dict[str, str | int | list[str]] = {
            "solution": request.solution,
            "lot": request.lot,
            "at_us": request.lot_expiry_us,
        }
        told = [Reason("L01", "lot-expired", facts)]
        return deciding.refuse(scene, request, told, about=about)
    parts, strength, reasons = _mixed(agent, request)
    reasons += _unread(("water_l", request.water_l, "L"), ("temp_c", request.temp_c, "degC"))
    lot = lots.named(scene, request.lot)
    reasons += lots.barred(scene, lot, product=agent.agent) if lot is not None else lots.off_record(scene, request.lot)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.SolutionMade(
        agent=agent.agent,
        digest=scene.agent_digest,
        form="container" if agent.form == "wipe" else "bath",
        site=scene.bench.site.site,
        lot=request.lot,
        lot_expiry_us=request.lot_expiry_us,
        expires_us=_expires_us(agent, request, now),
        stock_parts=str(parts.stock) if parts is not None else None,
        water_parts=str(parts.water) if parts is not None else None,
        reading_of_ratio=_ratio(request) if parts is not None else None,
        strength_ppm=strength,
        water_l=request.water_l,
        temp_c=request.temp_c,
    )
    drafts = [on_solution(request.solution, body), *taking.taken(scene, request.lot, 1, about)]
    return deciding.accept(scene, request, drafts, warnings=warnings, about=about)


def _by_record(scene: Scene, request: MakeSolution, agent: Agent) -> tuple[MakeSolution, list[Reason]]:
    """Returns the request with the earlier of the two days of its lot, and what is told of that lot (L01, L13)."""
    lot = lots.named(scene, request.lot)
    if lot is None:
        return request, lots.unknown(scene, request.lot, agent.agent)
    told = lots.told(scene, lot)
    if lot.expiry_us is None or lot.expiry_us == request.lot_expiry_us:
        return request, told
    told.append(Reason("L01", "lot-two-days", {"lot": lot.lot}))
    return replace(request, lot_expiry_us=min(lot.expiry_us, request.lot_expiry_us)), told


def _agent(scene: Scene, name: str) -> Agent:
    if scene.agent is None:
        message = f"No agent called {name} is in force here."
        raise WrongUseError(message, agent=name)
    return scene.agent


def _expires_us(agent: Agent, request: MakeSolution, now_us: int) -> int:
    keeping = agent.keeping
    days = None
    if keeping is not None:
        days = keeping.opened_days if agent.form == "wipe" else keeping.reuse_days
    if days is None and agent.form != "wipe":
        days = FRESH_DAYS
    ends = [request.lot_expiry_us]
    if days is not None:
        ends.append(now_us + days * DAY_S * SECOND_US)
    if request.hours is not None:
        ends.append(now_us + request.hours * 3600 * SECOND_US)
    return min(ends)


def _ratio(request: MakeSolution) -> Literal["1 in n", "1 plus n"]:
    return "1 in n" if request.one_in is not None else "1 plus n"


def _mixed(agent: Agent, request: MakeSolution) -> tuple[dilution.Parts | None, str | None, list[Reason]]:
    """Returns the parts, the strength in ppm as text, and why the mixture is too weak; "1 in n" is not "1 plus n"."""
    if request.one_in is None and request.water_parts is None:
        return None, None, []
    numbers: dict[str, Decimal] = {}
    for name in ("one_in", "stock_parts", "water_parts", "stock_percent"):
        text = getattr(request, name)
        if text is None:
            continue
        value = _number(name, text, "parts")
        if isinstance(value, Reason):
            return None, None, [value]
        numbers[name] = value
    try:
        if "one_in" in numbers:
            parts = dilution.one_in(numbers["one_in"])
        else:
            stock = numbers.get("stock_parts", Decimal(1))
            parts = dilution.added_to(stock, numbers["water_parts"])
        if "stock_percent" not in numbers:
            return parts, None, []
        strength = dilution.mixed(dilution.percent(numbers["stock_percent"]), parts)
    except ValueError as fault:
        told = Reason("M08", "not-a-number", {"reading": "parts", "because": str(fault)})
        return None, None, [told]
    ppm = f"{float(strength.mg_per_l):.1f}"
    least = agent.strength
    if least is not None:
        wanted = dilution.percent(least.least) if least.unit == "percent" else dilution.ppm(least.least)
        if strength.mg_per_l < wanted.mg_per_l:
            weak = {"ppm": ppm, "least": f"{least.least} {least.unit}"}
            return parts, ppm, [Reason("L02", "too-weak", {**weak})]
    return parts, ppm, []


def _number(name: str, text: str, unit: str) -> Decimal | Reason:
    """Returns a number that is not negative, or why it must be entered again (M08)."""
    value = read_number(text, unit)
    if not isinstance(value, BadReading) and value >= 0:
        return value
    because = value.sentence if isinstance(value, BadReading) else "it is negative"
    return Reason("M08", "not-a-number", {"reading": name, "because": because})


def _unread(*given: tuple[str, str | None, str]) -> list[Reason]:
    """Returns which of the readings that were given, each (name, text, unit), cannot be kept as numbers (M08, I4)."""
    told = [_number(name, text, unit) for name, text, unit in given if text is not None]
    return [one for one in told if isinstance(one, Reason)]


def test(scene: Scene, request: TestSolution) -> Decision:
    """Records a strip test. A failed one ends the bath and holds every item since the last valid pass (L07)."""
    about = stream(StreamKind.SOLUTION, request.solution)
    bath, agent = scene.solution, scene.agent
    if bath is None or not bath.known or agent is None:
        return _unknown(scene, request, about)
    strips = lots.named(scene, request.strip_lot)
    bad_strips = strips is not None and not strips.good(scene.bench.now_us)
    result = judging.judge_test(
        agent,
        strip_expired=bad_strips or request.strip_expiry_us <= scene.bench.now_us,
        reading=request.reading,
        passed=request.passed,
        read_after_s=request.read_after_s,
    )
    if isinstance(result, list):
        return deciding.refuse(scene, request, result, about=about)
    if result.passed and result.valid and competence.known(scene.bench):
        result = replace(result, valid=False, void_because="the tester is not known here")
    body = words.SolutionTested(
        valid=result.valid,
        passed=result.passed,
        void_because=result.void_because,
        reading=request.reading,
        limit=result.limit,
        unit=result.unit,
        strip_lot=request.strip_lot,
        strip_expiry_us=request.strip_expiry_us,
        control_run=request.control_run,
        read_after_s=request.read_after_s,
    )
    drafts = [on_solution(request.solution, body)]
    if not result.valid:
        told = Reason("L08", "test-void", {"because": result.void_because or ""})
        return deciding.found(scene, request, drafts, [told], (), about=about)
    if result.passed:
        return deciding.accept(scene, request, drafts, about=about)
    if bath.ended is None:
        drafts.append(on_solution(request.solution, words.SolutionEnded(cause="failed")))
    # A failed bath has held its items once; a second failed test of it reaches nothing new (E25).
    reached = _reached(scene) if bath.failed_us is None else {}
    drafts += void_contacts(scene, reached, request.solution)
    case = f"{request.solution}-{bath.number + 1}"
    uses = scene.uses if bath.failed_us is None else ()
    drafts += exposing.case_opened(replace(scene, uses=uses), case, "L07", f"{request.solution} failed its test")
    standings = [contacts[0].part.standing for contacts in reached.values()]
    facts: dict[str, str | int | list[str]] = {
        "solution": request.solution,
        "held": len(standings),
        "ready": sum(1 for one in standings if one.stage == Stage.READY),
        "items": sorted(reached),
    }
    reasons = [Reason("L07", "bath-failed", facts), *exposing.told(case, uses)]
    return deciding.found(scene, request, drafts, reasons, (), about=about)


def _reached(scene: Scene) -> dict[str, list[Contact]]:
    """Returns the contacts that a failed test reaches, by item; a condemned item is out of reach for good."""
    by_item: dict[str, list[Contact]] = {}
    for one in scene.contacts:
        if one.part.standing.stage != Stage.CONDEMNED:
            by_item.setdefault(one.part.standing.item, []).append(one)
    return dict(sorted(by_item.items()))


def void_contacts(scene: Scene, reached: dict[str, list[Contact]], solution: str) -> list[Draft]:
    """Returns what befalls every item whose contact is in doubt: the contact breaks, steps fall, a hold appears (L07).

    An item is held once, whatever its stage and however many of its contacts are reached (I7). The assembly that an
    item is part of falls with it, or is held with it where the contact was of an earlier cycle.
    """
    because = f"{solution} failed its test"
    made_us = scene.solution.made_us if scene.solution is not None else 0
    cause_id = f"{stream(StreamKind.SOLUTION, solution)}/{made_us}"
    drafts: list[Draft] = []
    wholes: dict[str, list[Draft]] = {}
    for item, contacts in reached.items():
        own = _void_item(contacts, solution, because, cause_id)
        drafts += own
        standing = contacts[0].part.standing
        if standing.assembly is not None:
            fell = any(isinstance(draft.body, words.StepsFell) for draft in own)
            falls = deciding.whole_falls(scene, standing, "L07", f"{item}: {because}") if fell else []
            held = deciding.whole_held(scene, standing, "solution", because, "supervisor")
            wholes[standing.assembly] = falls or wholes.get(standing.assembly) or held
    return drafts + [draft for one in wholes.values() for draft in one]


def _void_item(contacts: list[Contact], solution: str, because: str, cause_id: str) -> list[Draft]:
    part, rule = contacts[0].part, "L07"
    item = part.standing
    name = item.item
    drafts = _break(item, solution, rule)
    steps = tuple(one.step for one in contacts if one.cycle == item.cycle and one.step in item.satisfied)
    if steps:
        fallen = deciding.fall(part, (*steps, *_cleaning(part.workflow)))
        body = words.StepsFell(rule=rule, stage=fallen.stage, fell=fallen.fell, because=because)
        drafts.append(on_item(name, body))
    if hold.answered(item, cause_id):
        return drafts
    placed = hold.placed(
        deciding.hold_id(item, "solution", len(drafts) + 1),
        "solution",
        rule,
        because,
        "supervisor",
        cause_id=cause_id,
    )
    return [*drafts, on_item(name, placed)]


def _cleaning(workflow: Workflow) -> tuple[str, ...]:
    """Returns the steps that clean: what a weak bath left may have dried on since, so it is cleaned again (E06)."""
    return tuple(step.step for step in workflow.steps if step.competency_needed == "clean")


def _break(item: Standing, solution: str, rule: str) -> list[Draft]:
    """Returns the entry by which a contact that still runs in this solution breaks, if there is one."""
    opened = item.dwell
    if opened is None or opened.solution != solution:
        return []
    body = words.DwellBroken(step=opened.step, cause="solution", rule=rule, wet_s=0, least_s=opened.least_s)
    return [on_item(item.item, body)]


def _unknown(scene: Scene, request: SolutionRequest, about: str) -> Decision:
    body = words.FactNoted(subject=about, asked=request.asked, words={})
    told = Reason("L02", "solution-unknown", {"solution": request.solution, "agents": []})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], (), about=about)


def top_up(scene: Scene, request: TopUpSolution) -> Decision:
    """Records a topping up: the new lot is linked, the expiry does not move (L04)."""
    about = stream(StreamKind.SOLUTION, request.solution)
    bath = scene.solution
    if bath is None or not bath.known:
        return _unknown(scene, request, about)
    if bath.ended is not None:
        facts: dict[str, str | int | list[str]] = {
            "solution": request.solution,
            "cause": bath.ended,
        }
        return deciding.refuse(scene, request, [Reason("L06", "solution-ended", facts)], about=about)
    unread = _unread(("volume_l", request.volume_l, "L"))
    if unread:
        return deciding.refuse(scene, request, unread, about=about)
    body = words.SolutionToppedUp(lot=request.lot, lot_expiry_us=request.lot_expiry_us, volume_l=request.volume_l)
    warnings = [Reason("L04", "expiry-stays", {"at_us": bath.expires_us})]
    drafts = [on_solution(request.solution, body), *taking.taken(scene, request.lot, 1, about)]
    lot = lots.named(scene, request.lot)
    barred = lots.barred(scene, lot) if lot is not None else lots.off_record(scene, request.lot)
    if any(one.key == "lot-recalled" for one in barred):
        # It is in the bath already: a fact, and the bath is used no more.
        reference = str(barred[0].facts.get("because", ""))
        drafts.append(on_solution(request.solution, words.SolutionLotRecalled(lot=request.lot, reference=reference)))
        return deciding.found(scene, request, drafts, barred, (), about=about)
    return deciding.accept(scene, request, drafts, warnings=warnings + barred, about=about)


def finish(scene: Scene, request: EndSolution) -> Decision:
    """Records that a solution is no longer in use; contacts still running in it are void (L06)."""
    about = stream(StreamKind.SOLUTION, request.solution)
    bath = scene.solution
    if request.cause not in END_CAUSES:
        message = f"A solution ends as one of {', '.join(END_CAUSES)}, not {request.cause}."
        raise WrongUseError(message, cause=request.cause)
    if bath is None or not bath.known:
        return _unknown(scene, request, about)
    body = words.SolutionEnded(cause=cast("EndCause", request.cause))
    drafts: list[Draft] = [] if bath.ended is not None else [on_solution(bath.solution, body)]
    items = {one.part.standing.item: one.part.standing for one in scene.contacts}
    broken = [draft for item in items.values() for draft in _break(item, bath.solution, "L06")]
    drafts += broken
    if not drafts:
        already = Reason("L06", "solution-ended", {"solution": bath.solution, "cause": bath.ended or ""})
        return deciding.refuse(scene, request, [already], about=about)
    if broken:
        stopped = [subject_of(draft.stream) for draft in broken]
        told = Reason("L06", "contacts-void", {"solution": bath.solution, "items": stopped})
        return deciding.found(scene, request, drafts, [told], (), about=about)
    return deciding.accept(scene, request, drafts, warnings=_wiped_dry(scene, request), about=about)


def _wiped_dry(scene: Scene, request: EndSolution) -> list[Reason]:
    """Returns which items were wiped from a container that is now reported dry: their contacts stand (L09)."""
    if request.cause != "dry":
        return []
    done = {one.part.standing.item for one in scene.contacts if one.step in one.part.standing.satisfied}
    return [Reason("L09", "wiped-dry", {"solution": request.solution, "items": sorted(done)})] if done else []
