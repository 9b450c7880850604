"""How a dwell breaks: dried out, not seen running, at the wrong temperature; and the note of clocks that disagreed."""

from __future__ import annotations

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import EndDwell, Rewet
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import OpenDwell
from reprocess.rules.answer import Reason
from reprocess.rules.contact import End, Judgement
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US


def body_of(opened: OpenDwell, seen: Judgement, cause: str, rule: str) -> words.DwellBroken:
    """Returns the entry that voids an open dwell; what was covered so far is kept for the record only (T04)."""
    return words.DwellBroken(step=opened.step, cause=cause, rule=rule, wet_s=seen.proven_s, least_s=opened.least_s)


def by_the_clock(
    scene: Scene, request: Rewet | EndDwell, opened: OpenDwell, seen: Judgement, facts: list[Draft]
) -> Decision:
    """Returns the refusal of a scan that finds its dwell broken: the film dried (T03) or nobody saw the clock (E07)."""
    unseen = seen.end is End.UNOBSERVED
    rule, cause = ("E07", "clock") if unseen else ("T03", "gap")
    told = Reason(
        rule,
        "unobserved" if unseen else "dried-out",
        {
            "step": opened.step,
            "since_wet": -(-seen.since_wet.greatest_us // SECOND_US),
            "film": opened.film_s or 0,
            "passed": -(-seen.span.greatest_us // SECOND_US),
            "unseen": -(-seen.span.unobserved_us // SECOND_US),
        },
    )
    broken = on_item(scene.item.item, body_of(opened, seen, cause, rule))
    return deciding.refuse(scene, request, [told], step=opened.step, facts=[broken, *facts])


def anomaly(scene: Scene, opened: OpenDwell, seen: Judgement) -> list[Draft]:
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
