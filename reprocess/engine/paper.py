"""A dwell that is known only from a numbered form: both its ends, two people, attested and never measured (D05, D06).

It is judged as of now, like everything else: what the form says gives the length of the pair, is searched for
contradictions, and opens nothing. A film that had to be wetted again cannot be shown by two times.
"""

from __future__ import annotations

from dataclasses import replace

from reprocess.definitions.model import Step
from reprocess.definitions.times import Dwell
from reprocess.engine import decision as deciding
from reprocess.engine import dwells, ending, steps
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import EndDwell
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules import competence, contact, hold, instrument, reading, sequence, waiting
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.asked import Late
from reprocess.rules.contact import Required
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US


def end(scene: Scene, request: EndDwell, late: Late) -> Decision:
    """Decides a dwell of which only a form tells, as if it began and ended with this request.

    Raises:
        WrongUseError: the step is not named or runs on no clock.
    """
    if request.step is None:
        message = "A late entry names its step."
        raise WrongUseError(message, item=request.item)
    step, dwell = dwells.dwell_of(scene, request.step)
    if scene.item.dwell is not None or late.began_us is None:
        key = "clock-open" if scene.item.dwell is not None else "one-end-only"
        told = Reason("D05", key, {"step": scene.item.dwell.step if scene.item.dwell is not None else step.step})
        return deciding.refuse(scene, request, [told], step=step.step)
    lasted_s = max(0, late.occurred_us - late.began_us) // SECOND_US
    judged = reading.judge(step, request.checks, request.readings, {}, scene.configuration)
    if judged.failed:
        return steps.failed(scene, request, step, judged)
    scene, facts = steps.before_work(scene, step)
    times, medium = dwells.governing(scene, dwell, request.temp_c)
    dose, thermal = ending.dose_of(dwell, request, lasted_s)
    reasons = [
        *competence.may_do(scene, step),
        *sequence.in_order(scene, step),
        *sequence.right_side(scene.bench, step),
        *hold.in_the_way(scene.item, release=False),
        *waiting.prompt(step, scene.item, scene.bench).reasons,
        *waiting.late(late, step, scene.item, scene.bench),
        *instrument.believable(scene, step, request.instrument),
        *medium,
        *(_too_short(step, dwell, times, lasted_s) if times is not None else []),
        *thermal,
        *judged.unread,
        *judged.missing,
    ]
    if reasons or times is None:
        return deciding.refuse(scene, request, reasons, step=step.step, facts=facts)
    drafts = [_by(one, late) for one in dwells.begun(scene, step, dwell, times, request.temp_c, late.began_us)]
    over = times.greatest_s is not None and lasted_s > times.greatest_s
    body = words.DwellEnded(
        step=step.step,
        stage=deciding.stage_after(scene, step),
        evidence="attested",
        proven_s=lasted_s,
        least_s=times.least_s,
        greatest_seen_s=lasted_s,
        over_exposed=over,
        temp_c=request.temp_c,
        dose_a0_s=dose,
        readings=request.readings,
        checks=request.checks,
        limits=judged.limits,
        paper=late.paper,
        done_by=late.done_by,
        done_with=late.done_with,
    )
    drafts += [on_item(scene.item.item, body, late.occurred_us), *facts]
    if over:
        return ending.over_exposed(scene, request, step, (lasted_s, times.greatest_s or 0), drafts)
    return deciding.accept(scene, request, drafts, step=step.step, warnings=hold.told(scene.item))


def _by(draft: Draft, late: Late) -> Draft:
    """Returns the draft with whoever did it, where it is the beginning of the dwell."""
    if not isinstance(draft.body, words.DwellStarted):
        return draft
    return replace(draft, body=draft.body.model_copy(update={"done_by": late.done_by, "done_with": late.done_with}))


def _too_short(step: Step, dwell: Dwell, times: Required, lasted_s: int) -> list[Reason]:
    """Returns why the pair of times does not show the dwell: too short (T01, T09, T10), or a film between (T03)."""
    reasons: list[Reason] = []
    facts: dict[str, Fact] = {"step": step.step, "least": times.least_s, "proven": lasted_s}
    if lasted_s < times.least_s:
        rule = contact.EARLY_RULE.get(dwell.kind, "T01")
        reasons.append(Reason(rule, "too-short", facts))
    if times.film_s is not None and times.film_s < times.least_s:
        reasons.append(Reason("T03", "film-not-shown", {**facts, "film": times.film_s}))
    return reasons
