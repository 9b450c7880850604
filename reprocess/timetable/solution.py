"""The reminders of a bath or an opened container: its tests (L03), its expiry (L01, L05, L09)."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from reprocess.definitions.label import Agent
from reprocess.record.solutions import Solution
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable.days import at_hour, local_date
from reprocess.timetable.due import AHEAD, SOON, Due, Words, key_of

NEAR_US: Final = 2 * 3600 * SECOND_US
"""How long before its expiry a solution is brought to mind (R03)."""


def for_solution(solution: Solution, agent: Agent, zone: str, changed_us: int) -> tuple[Due, ...]:
    """Returns every reminder that a solution in use calls for; one that failed or ended calls for none.

    Args:
        solution: where the solution stands.
        agent: its label.
        zone: the time zone of its site.
        changed_us: when its latest entry was recorded.
    """
    if not solution.known or solution.ended is not None or solution.failed_us is not None:
        return ()
    over_us = min(solution.expires_us, solution.lot_expiry_us)
    found = _of_expiry(solution, over_us)
    test = _test(solution, agent, zone, changed_us)
    if test is not None and test.due_us < over_us:
        found.append(test)
    return tuple(found)


def _due(solution: Solution, rule: str, cause: tuple[str, str], due_us: int, severity: int, words: Words) -> Due:
    subject = stream(StreamKind.SOLUTION, solution.solution)
    held: Words = {"site": solution.site, "solution": solution.solution}
    return Due(key_of(rule, subject, *cause), subject, rule, due_us, severity, held | words)


def _of_expiry(solution: Solution, over_us: int) -> list[Due]:
    rule = "L09" if solution.form == "container" else "L05"
    if solution.lot_expiry_us < solution.expires_us:
        rule = "L01"
    cause = f"made-{solution.made_us}-{over_us}"
    over = _due(solution, rule, (cause, "over"), over_us, SOON, {"say": "solution-over", "at_us": over_us})
    near_us = over_us - NEAR_US
    if near_us <= solution.made_us:
        return [over]
    words: Words = {"say": "solution-near", "at_us": over_us}
    return [_due(solution, rule, (cause, "near"), near_us, AHEAD, words), over]


def _test(solution: Solution, agent: Agent, zone: str, changed_us: int) -> Due | None:
    """Returns when the next passing test is needed, as `rules.solution.tested` will ask for it."""
    strength = agent.strength
    if strength is None or strength.test_every == "none" or solution.form == "container":
        return None
    say: Words = {"say": "test-due"}
    if solution.doubted:
        since_us = solution.passed_us if solution.passed_us is not None else solution.made_us
        return _due(solution, "L03", (f"doubted-{since_us}", "test"), changed_us, SOON, say)
    if solution.passed_us is None:
        return _due(solution, "L03", (f"made-{solution.made_us}", "test"), solution.made_us, SOON, say)
    if strength.test_every == "use":
        if not solution.touched_since_pass:
            return None
        return _due(solution, "L03", (f"use-{solution.touched}", "test"), changed_us, SOON, say)
    day = local_date(zone, solution.passed_us) + timedelta(days=1)
    return _due(solution, "L03", (day.isoformat(), "test"), at_hour(zone, day), SOON, say)
