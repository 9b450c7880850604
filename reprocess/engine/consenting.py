"""Consent by one's own badge at one's own station, and how a request finds it as its second person (S08, E36)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from reprocess.engine.decision import Decision, accept, refuse
from reprocess.engine.overriding import goes_on
from reprocess.engine.request import Request
from reprocess.engine.request.signing import Consent
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.consents import Consent as Kept
from reprocess.record.consents import Consents
from reprocess.record.entry import Draft
from reprocess.record.people import Person
from reprocess.rules import competence, signing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

HELPED: Final = frozenset(
    {
        "countersign",
        "override-role",
        "override-two",
        "own-hold",
        "preceptor-needed",
        "role-needed",
        "second-needed",
        "two-must-confirm",
        "two-people-needed",
        "very-late",
    }
)
"""What a second person's consent can answer, by the sentence of the refusal."""
OVERRIDE: Final = "override"
_KIND: Final = re.compile(r"[a-z]+(-[a-z]+)*")
_DETAILS: Final = ("hold", "step", "number", "feed", "load", "recall", "lot", "tag", "new", "other")
"""The fields of a request that say what exactly it is about, the first one that it has."""


def consent(scene: Scene, request: Consent) -> Decision:
    """Decides whether a consent is kept: whoever gives it is known here, and the subject is on record.

    Raises:
        WrongUseError: what is consented to is no kind of request.
    """
    if not _KIND.fullmatch(request.to):
        message = f"Consent is given to a kind of request, such as lift-hold, not {request.to[:40]!r}."
        raise WrongUseError(message)
    state = scene.states[request.subject]
    reasons = competence.known(scene.bench)
    if not state.number:
        reasons.append(Reason("P06", "not-known-yet", {"subject": request.subject}))
    if reasons:
        return refuse(scene, request, reasons, about=request.subject)
    shown = signing.shown_digest(request.subject, state)
    body = words.ConsentGiven(to=request.to, about=request.about, shown=shown)
    return accept(scene, request, [Draft(kept_in(request.subject), body)], about=request.subject)


def kept_in(subject: str) -> str:
    """Returns the stream that keeps the consents to requests about a subject."""
    return stream(StreamKind.CONSENT, subject)


def would_help(decision: Decision) -> bool:
    """Tells whether somebody's consent could change a refusal."""
    return not goes_on(decision) and any(one.key in HELPED for one in decision.answer.reasons)


def waiting(consents: Consents, request: Request, scene: Scene) -> list[Kept]:
    """Returns the consents that this request may use: of other people, to just this, not older than five minutes."""
    bench = scene.bench
    me = bench.actor.person if bench.actor is not None else None
    asked = {(request.asked, about_of(request))}
    if bench.special.override is not None:
        asked.add((OVERRIDE, bench.special.override.rule))
    return [
        one
        for one in consents.waiting
        if (one.to, one.about) in asked and one.person != me and one.is_fresh(bench.moment)
    ]


def about_of(request: Request) -> str | None:
    """Returns what exactly a request is about, as a consent to it must name it; None where it has no such detail."""
    found = (getattr(request, name, None) for name in _DETAILS)
    return next((str(one) for one in found if one is not None), None)


def with_people(scene: Scene, kept: Sequence[Kept], people: Sequence[Person]) -> list[Scene]:
    """Returns the scenes in which a request may be judged anew, one for each person who could be its second."""
    allowing = tuple(person for one, person in zip(kept, people, strict=True) if one.to == OVERRIDE and person.active)
    seconds = [person for one, person in zip(kept, people, strict=True) if one.to != OVERRIDE]
    bench = scene.bench
    special = replace(bench.special, consenting=allowing)
    if bench.second is not None or bench.second_badge is not None or not seconds:
        return [replace(scene, bench=replace(bench, special=special))]
    remote = replace(special, remote=True)
    return [replace(scene, bench=replace(bench, second=person, special=remote)) for person in seconds]


def using(decision: Decision, scene: Scene, kept: Sequence[Kept]) -> Decision:
    """Returns the decision with the note that these consents served it, so that they serve nothing else."""
    second = scene.bench.second
    named = {second.person} if second is not None and scene.bench.special.remote else set()
    for draft in decision.drafts:
        if isinstance(draft.body, words.OverrideUsed):
            named |= set(draft.body.authorised)
    numbers = tuple(one.number for one in kept if one.person in named)
    if not numbers:
        return decision
    body = words.ConsentUsed(numbers=numbers)
    return replace(decision, drafts=(*decision.drafts, Draft(kept_in(decision.answer.subject), body)))
