"""What may be used as a disinfectant: P14, P15, L01-L09 and M05; when a test counts, what a contact survives."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.definitions.label import Agent, Strength
from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Dwell
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record.solutions import Solution
from reprocess.record.standing import OpenDwell
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.rules.sequence import CHEMICAL
from reprocess.terms import DAY_S, SECOND_US

FINISH_US = DAY_S * SECOND_US
"""A soak may finish in a bath that expires meanwhile if it passed a test within this time (L05, catalogue)."""


def allowed(scene: Scene, dwell: Dwell) -> list[Reason]:
    """Returns why the solution or agent named may not be used for this contact, all reasons at once."""
    solution, agent = scene.solution, scene.agent
    if solution is None or not solution.known or agent is None:
        name = solution.solution if solution is not None else "none"
        return [Reason("L02", "solution-unknown", {"solution": name, "agents": list(dwell.agents)})]
    reasons = []
    if agent.agent not in dwell.agents:
        reasons.append(
            Reason(
                "P14",
                "agent-not-allowed",
                {"agent": agent.title, "agents": list(dwell.agents)},
                role="supervisor",
            )
        )
    return reasons + unmixed(agent, scene) + usable(solution, agent, scene)


def unmixed(agent: Agent, scene: Scene) -> list[Reason]:
    """Returns why the agent must not meet what is still on the item: nothing rinsed it off since (P15)."""
    item, rinses = scene.item, _rinses(scene.as_part().workflow)
    rinsed = max((one.number for name, one in item.satisfied.items() if name in rinses), default=0)
    return [
        Reason("P15", "never-after", {"agent": agent.title, "other": other}, role="supervisor")
        for other, number in item.chemicals.items()
        if number > rinsed and other in agent.never_after
    ]


def _rinses(workflow: Workflow) -> tuple[str, ...]:
    """Returns the steps that must promptly follow a contact, because they take its residue off."""
    contacts = {step.step for step in workflow.steps if step.dwell is not None and step.dwell.kind in CHEMICAL}
    return tuple(step.step for step in workflow.steps if step.promptly is not None and step.promptly.of in contacts)


def usable(solution: Solution, agent: Agent, scene: Scene) -> list[Reason]:
    """Returns why a bath or container may not be used now: L01, L03, L05, L06, L07, L09, M05."""
    now = scene.bench.now_us
    name: dict[str, str | int | list[str]] = {"solution": solution.solution}
    if solution.failed_us is not None:
        return [Reason("L07", "solution-failed", {**name, "at_us": solution.failed_us})]
    if solution.ended is not None:
        return [Reason("L06", "solution-ended", {**name, "cause": solution.ended})]
    reasons = []
    if solution.recalled is not None:
        reasons.append(Reason("L12", "solution-recalled", {**name, "lot": solution.recalled}))
    if solution.doubted:
        reasons.append(Reason("L08", "test-doubted", name))
    if solution.lot_expiry_us <= now:
        reasons.append(Reason("L01", "lot-expired", {**name, "lot": solution.lot, "at_us": solution.lot_expiry_us}))
    if solution.expires_us <= now:
        rule = "L09" if solution.form == "container" else "L05"
        reasons.append(Reason(rule, "solution-expired", {**name, "at_us": solution.expires_us}))
    if agent.keeping is not None and agent.keeping.single_use and solution.touched > 0:
        reasons.append(Reason("L05", "single-use", name))
    return reasons + tested(solution, agent, scene)


def tested(solution: Solution, agent: Agent, scene: Scene) -> list[Reason]:
    """Returns why the bath lacks the passing test that its label asks for: of today, or before each use (L03)."""
    strength = agent.strength
    if strength is None or strength.test_every == "none" or solution.form == "container":
        return []
    facts: dict[str, str | int | list[str]] = {"solution": solution.solution}
    if solution.passed_us is None:
        return [Reason("L03", "never-tested", facts)]
    if strength.test_every == "use" and solution.touched_since_pass > 0:
        return [Reason("L03", "test-before-use", facts)]
    if scene.bench.last_day != scene.bench.local_day:
        return [Reason("L03", "test-today", facts)]
    return []


def meanwhile(solution: Solution, agent: Agent, opened: OpenDwell, now_us: int) -> Reason | None:
    """Returns what became of the solution during a contact that began in it, or None where nothing did.

    One that ended, or was made anew, voids the contact (L06). Where it expired the label's policy decides (L05):
    `finish` lets the contact end (key `expired-mid-soak`) if the bath needs no test or passed one within a day; in
    all other cases the contact is void (key `void-mid-soak`).
    """
    if solution.ended is not None or solution.made_feed > opened.feed:
        return Reason("L06", "solution-ended", {"solution": solution.solution, "cause": solution.ended or "made anew"})
    ends_us = min(solution.expires_us, solution.lot_expiry_us)
    if ends_us > now_us:
        return None
    passed_us = solution.passed_us
    untested = agent.strength is None or agent.strength.test_every == "none"
    fresh = untested or (passed_us is not None and now_us - passed_us < FINISH_US)
    calendar = solution.lot_expiry_us > now_us  # an expired lot, even one topped up, is never finished
    key = "expired-mid-soak" if agent.expiry_mid_soak == "finish" and fresh and calendar else "void-mid-soak"
    return Reason("L05", key, {"solution": solution.solution, "at_us": ends_us})


@dataclass(frozen=True, slots=True)
class Tested:
    """Is what a strip test comes to: a void test neither passes nor fails the bath (M05, L08)."""

    valid: bool
    passed: bool
    void_because: str | None
    limit: str | None
    unit: str | None


def judge_test(
    agent: Agent,
    *,
    strip_expired: bool,
    reading: str | None,
    passed: bool | None,
    read_after_s: int | None,
) -> Tested | list[Reason]:
    """Returns what the test comes to, or what must be entered again (M08)."""
    strength = agent.strength
    limit = None if strength is None else str(strength.least)
    unit = None if strength is None else strength.unit
    good = passed
    if reading is not None and strength is not None:
        value = read_number(reading, strength.unit)
        if isinstance(value, BadReading):
            return [Reason("M08", "not-a-number", {"reading": "strip", "because": value.sentence})]
        good = value >= strength.least
        if passed is not None and passed != good:
            return [Reason("M08", "strip-contradicts", {"value": reading, "limit": limit or ""})]
    if good is None:
        return [Reason("M05", "result-missing", {})]
    void = "the strip bottle is out of date" if strip_expired else _read_out_of_time(strength, read_after_s)
    return Tested(void is None, good, void, limit, unit)


def _read_out_of_time(strength: Strength | None, read_after_s: int | None) -> str | None:
    """Returns why the strip was not read when its label says, or None; an unknown time counts as out of it (M05)."""
    low = strength.read_after_least_s if strength is not None else None
    high = strength.read_after_most_s if strength is not None else None
    if low is None and high is None:
        return None
    window = f"{low or 0} to {high or 'any'} s"
    if read_after_s is None:
        return f"it is not said when the strip was read; it must be after {window}"
    if (low is not None and read_after_s < low) or (high is not None and read_after_s > high):
        return f"the strip was read after {read_after_s} s, not {window}"
    return None
