"""What only some requests come with: an override of one rule, a digest of what was shown, a doubt about the badge.

An advance that is refused is judged once more without the one rule, where everything that spoke against it was that
rule and the people may pass over it; an `override-used` entry then stands beside the advance (C20).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_site
from reprocess.engine.request import Request, ReviewEntry, ReviewRefusals
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.states import State
from reprocess.rules import override, signing
from reprocess.rules.answer import Reason
from reprocess.rules.asked import Override
from reprocess.rules.scene import NOTHING_SPECIAL, Elsewhere, Scene
from reprocess.terms import SECOND_US, StreamKind, stream

Judge = Callable[[Request, Scene], Decision]


def decide(request: Request, scene: Scene, judge: Judge) -> Decision:
    """Returns what a request comes to; `judge` decides it as if it were a plain one.

    Raises:
        WrongUseError: the override names no reason of the list, or says nothing.
    """
    special = scene.bench.special
    if special is NOTHING_SPECIAL:
        return judge(request, scene)
    decision = judge(request, scene)
    if special.override is not None:
        decision = _overridden(request, scene, judge, decision, special.override)
    if special.shown is not None and (request.asked in signing.MEANINGS or special.override is not None):
        decision = _as_shown(request, scene, decision)
    if special.elsewhere is not None:
        decision = _doubted(scene, decision, special.elsewhere)
    return decision


def goes_on(decision: Decision) -> bool:
    """Tells whether what was asked stands on record, whatever else was found by it."""
    return not any(isinstance(draft.body, words.AdvanceRefused) for draft in decision.drafts)


def _overridden(request: Request, scene: Scene, judge: Judge, plain: Decision, asked: Override) -> Decision:
    if asked.because not in override.REASONS or not asked.words.strip():
        message = f"An override needs words and one of these reasons: {', '.join(override.REASONS)}."
        raise WrongUseError(message)
    if goes_on(plain):
        spare = Reason("A08", "override-spare", {"rule": asked.rule})
        return replace(plain, answer=replace(plain.answer, warnings=(*plain.answer.warnings, spare)))
    told, allowing = override.judge(scene, asked, plain.answer.reasons)
    if told:
        return _still_refused(plain, told)
    waiving = replace(scene.bench, special=replace(scene.bench.special, waived=asked.rule))
    decision = judge(request, replace(scene, bench=waiving))
    if not goes_on(decision):
        return _still_refused(plain, [Reason("A08", "not-overridden-here", {"rule": asked.rule})])
    return _used(request, scene, decision, plain, allowing)


def _still_refused(plain: Decision, told: list[Reason]) -> Decision:
    """Returns the refusal with the reasons why the override does not help."""
    answer = replace(plain.answer, reasons=(*plain.answer.reasons, *told))
    drafts = tuple(
        replace(draft, body=draft.body.model_copy(update={"rules": answer.rules()}))
        if isinstance(draft.body, words.AdvanceRefused)
        else draft
        for draft in plain.drafts
    )
    return Decision(drafts, answer)


def _used(request: Request, scene: Scene, decision: Decision, plain: Decision, allowing: tuple[str, ...]) -> Decision:
    asked = scene.bench.special.override
    if asked is None:
        return decision
    tool = scene.instrument.instrument if asked.rule == "M09" and scene.instrument is not None else None
    body = words.OverrideUsed(
        rule=asked.rule,
        asked=request.asked,
        reasons=tuple(dict.fromkeys(one.key for one in plain.answer.reasons)),
        because=asked.because,
        words=asked.words,
        authorised=allowing,
        step=plain.answer.step,
        until_us=asked.until_us,
        reference=asked.reference,
        instrument=tool,
    )
    drafts = [*decision.drafts, Draft(decision.answer.subject, body)]
    if tool is not None:
        drafts.append(Draft(stream(StreamKind.INSTRUMENT, tool), body))
    times = override.many(scene.bench, asked.rule)
    if times is not None:
        drafts.append(on_site(scene.bench, words.OverridesMany(rule=asked.rule, times=times, days=override.WEEK_DAYS)))
    warning = Reason(asked.rule, "overridden", {"rule": asked.rule, "because": asked.because})
    return Decision(tuple(drafts), replace(decision.answer, warnings=(*decision.answer.warnings, warning)))


def _as_shown(request: Request, scene: Scene, decision: Decision) -> Decision:
    """Returns the decision, or a refusal where what was shown to whoever signs no longer stands (I22)."""
    subject = decision.answer.subject
    now = shown(request, scene, subject)
    told = signing.changed_since(scene.bench, subject, now) if now is not None else []
    if not told or not goes_on(decision):
        return decision
    return deciding.refuse(scene, request, told, step=decision.answer.step, about=subject)


def shown(request: Request, scene: Scene, subject: str) -> str | None:
    """Returns the digest of what is shown to whoever signs this request now; None where nothing was read to show."""
    if isinstance(request, ReviewEntry | ReviewRefusals):
        return signing.digest_of(signing.entry_text(scene.recent[0])) if scene.recent else None
    state = _standing_of(scene, subject)
    return None if state is None else signing.shown_digest(subject, state)


def _standing_of(scene: Scene, subject: str) -> State | None:
    if scene.item.item and subject == deciding.subject(scene):
        return scene.item
    if scene.solution is not None and subject == stream(StreamKind.SOLUTION, scene.solution.solution):
        return scene.solution
    return scene.states.get(subject)


def _doubted(scene: Scene, decision: Decision, other: Elsewhere) -> Decision:
    """Returns the decision with the note that the badge was used at two sites within minutes (E37)."""
    bench = scene.bench
    body = words.BadgeDoubted(
        person=other.person.person,
        site=bench.site.site,
        other_site=other.site,
        other_station=other.station,
        within_s=max(0, bench.now_us - other.at_us) // SECOND_US,
    )
    place = stream(StreamKind.STATION, bench.station.station)
    return Decision((*decision.drafts, Draft(place, body)), decision.answer)
