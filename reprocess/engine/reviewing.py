"""Looking at what was unusual: who may, and never at what they did or allowed themselves (D14, A08)."""

from __future__ import annotations

from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_site
from reprocess.engine.request.signing import ReviewEntry, ReviewRefusals
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.rules import competence, signing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

REVIEWERS: Final = ("supervisor", "programme-administrator", "infection-prevention")


def review(scene: Scene, request: ReviewEntry) -> Decision:
    """Decides a review of one entry; it then waits no longer."""
    entry = scene.recent[0] if scene.recent else None
    about = entry.stream if entry is not None else stream(StreamKind.SITE, scene.bench.site.site)
    reasons = competence.two_with_role(scene.bench, REVIEWERS, "A08", two=False)
    if entry is None:
        reasons.append(Reason("D14", "not-waiting", {"entry": request.feed}))
    else:
        reasons += _own(scene, entry)
    if reasons or entry is None:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.EntryReviewed(
        feed=request.feed,
        meaning=signing.MEANINGS[request.asked],
        finding=request.finding,
        shown=signing.digest_of(signing.entry_text(entry)),
    )
    return deciding.accept(scene, request, [on_site(scene.bench, body)], about=about)


def _own(scene: Scene, entry: Entry) -> list[Reason]:
    """Returns that the person would review what they did, stood by or allowed themselves.

    Nor does a colleague's badge help where nobody else here has the role.
    """
    bench = scene.bench
    body = entry.body
    mine = {
        entry.envelope.actor,
        entry.envelope.second,
        getattr(body, "done_by", None),
        getattr(body, "done_with", None),
    }
    if isinstance(entry.body, words.OverrideUsed):
        mine |= set(entry.body.authorised)
    if isinstance(entry.body, words.StepFlagged | words.BadgeDoubted):
        mine.add(entry.body.person)
    present = [one for one in (bench.actor, bench.second) if one is not None]
    able = [one for one in present if set(one.roles) & set(REVIEWERS)]
    own = [one for one in present[:1] if one.person in mine] or able
    if not own or any(one.person not in mine for one in own):
        return []
    return [Reason("A08", "own-entry", {"name": own[0].name}, role=REVIEWERS[0])]


def review_refusals(scene: Scene, request: ReviewRefusals) -> Decision:
    """Decides that the refusals so far were looked at; the count begins anew. Those to come are not among them."""
    reasons = competence.two_with_role(scene.bench, REVIEWERS, "A08", two=False)
    about = stream(StreamKind.SITE, scene.bench.site.site)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    last = scene.recent[-1].feed if scene.recent else 0
    body = words.RefusalsReviewed(until_feed=min(request.until_feed, last), finding=request.finding)
    return deciding.accept(scene, request, [on_site(scene.bench, body)], about=about)
