"""Wearers: who may register them, who may know who they are, and when a name goes (A09, D12, D13, E40, I21).

Nothing here ever sees a name: a decision says of which pseudonym one is kept, shown or erased, and the station does it
in the transaction of the entries that say so.
"""

from __future__ import annotations

from typing import Final, cast, get_args

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, NameDeed, on_site
from reprocess.engine.request import (
    ClearWearer,
    EraseName,
    FitTestWearer,
    Further,
    PurgeNames,
    ReadNames,
    RegisterWearer,
    TraceWearer,
    TrainWearer,
    WearerLeaves,
)
from reprocess.errors import InvariantError, WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.wearers import Wearer
from reprocess.record.words import Body
from reprocess.rules import privacy, retention
from reprocess.rules.answer import Reason
from reprocess.rules.keeping import Keeping
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

NAMES_MAX: Final = 200
"""Names that one request shows or purges at most (our choice)."""


def on_wearer(wearer: str, body: Body) -> Draft:
    """Returns a draft for a wearer's stream."""
    return Draft(stream(StreamKind.WEARER, wearer), body)


def register(scene: Scene, request: RegisterWearer) -> Decision:
    """Makes a wearer known under a pseudonym, or known again after the wearer had left."""
    wearer = _wearer(scene, request.wearer)
    reasons = privacy.may_keep(scene.bench)
    if wearer.active:
        reasons.append(Reason("A09", "known-already", {"subject": request.wearer}))
    body = words.WearerRegistered(unit=request.unit, site=scene.bench.site.site)
    return _advance(scene, request, request.wearer, body, reasons, NameDeed(keep=request.wearer))


def train(scene: Scene, request: TrainWearer) -> Decision:
    """Records until when the training counts."""
    body = words.WearerTrained(until_us=request.until_us)
    return _advance(scene, request, request.wearer, body, _may_record(scene, request.wearer))


def clear(scene: Scene, request: ClearWearer) -> Decision:
    """Records whether the wearer is cleared, and until when."""
    body = words.WearerCleared(cleared=request.cleared, until_us=request.until_us if request.cleared else None)
    return _advance(scene, request, request.wearer, body, _may_record(scene, request.wearer))


def fit_test(scene: Scene, request: FitTestWearer) -> Decision:
    """Records whether a model fits the wearer, and until when that counts."""
    until_us = request.until_us if request.fits else None
    body = words.WearerFitTested(model=request.model, fits=request.fits, until_us=until_us)
    return _advance(scene, request, request.wearer, body, _may_record(scene, request.wearer))


def leave(scene: Scene, request: WearerLeaves) -> Decision:
    """Records that the wearer is issued nothing any more; the name stays until its period is over (D12)."""
    return _advance(scene, request, request.wearer, words.WearerLeft(), _may_record(scene, request.wearer))


def trace(scene: Scene, request: TraceWearer) -> Decision:
    """Lets a role that may see exposure cases see what one wearer wore; that is an entry (H07).

    It stands in the wearer's own stream; of staff and of nobody known, who have none, in the site's.
    """
    body = words.WearerTraced(wearer=request.wearer)
    known = _wearer(scene, request.wearer).known
    about = stream(StreamKind.WEARER, request.wearer) if known else stream(StreamKind.SITE, scene.bench.site.site)
    reasons = privacy.may_see_cases(scene.bench)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def read_names(scene: Scene, request: ReadNames) -> Decision:
    """Lets names be shown to a role that may know them, an entry for each of them (D13, I21).

    Raises:
        WrongUseError: the purpose is none of the list, or there are too many names or none.
    """
    if request.why not in get_args(words.NameWhy):
        message = f"A name is asked for one of {', '.join(get_args(words.NameWhy))}, not {request.why}."
        raise WrongUseError(message, why=request.why)
    wearers = _several(request.wearers)
    reasons = privacy.may_know_names(scene.bench)
    unknown = [name for name in wearers if not _wearer(scene, name).known]
    reasons += [Reason("A09", "wearer-unknown", {"wearer": name}, role=privacy.PROGRAMME) for name in unknown]
    about = stream(StreamKind.WEARER, wearers[0])
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    return shown(
        deciding.accept(scene, request, [], about=about), wearers, cast("words.NameWhy", request.why), request.case
    )


def shown(decision: Decision, wearers: tuple[str, ...], why: words.NameWhy, case: str | None) -> Decision:
    """Returns the decision by which these names are shown as well, with an entry for each of them (I21)."""
    drafts = [on_wearer(name, words.WearerNameRead(why=why, case=case)) for name in wearers]
    return Decision((*decision.drafts, *drafts), decision.answer, NameDeed(show=wearers))


def erase(scene: Scene, request: EraseName) -> Decision:
    """Erases a name because its wearer asks for it, unless a law keeps it; the pseudonym stays (E40)."""
    wearer = _wearer(scene, request.wearer)
    reasons = privacy.may_know_names(scene.bench)
    if not wearer.known:
        reasons.append(Reason("A09", "wearer-unknown", {"wearer": request.wearer}, role=privacy.PROGRAMME))
    elif wearer.erased_us is not None:
        reasons.append(Reason("D12", "erased-already", {"wearer": request.wearer, "at_us": wearer.erased_us}))
    for link in _keeping(scene).links:
        reasons += retention.kept_by_law(link, scene.bench.now_us)
    body = words.WearerErased(why="own-request")
    return _advance(scene, request, request.wearer, body, reasons, NameDeed(erase=(request.wearer,)))


def purge(scene: Scene, request: PurgeNames) -> Decision:
    """Erases every name that is past its period, and reports which: by the policy alone, never by choice (D12)."""
    keeping, now = _keeping(scene), scene.bench.now_us
    about = stream(StreamKind.SITE, scene.bench.site.site)
    reasons = privacy.may_know_names(scene.bench)
    if request.wearers:
        reasons.append(Reason("D12", "purge-by-policy", {"wearers": list(request.wearers[:NAMES_MAX])}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    due = tuple(link.wearer for link in keeping.links if retention.past(link, keeping.period, now))[:NAMES_MAX]
    report = words.NamesPurged(wearers=due, years=keeping.period.years, source=keeping.period.source)
    drafts = [on_site(scene.bench, report), *(on_wearer(one, words.WearerErased(why="retention")) for one in due)]
    told = Reason("D12", "names-purged", {"names": len(due), "years": keeping.period.years})
    decision = deciding.accept(scene, request, drafts, warnings=[told], about=about)
    return Decision(decision.drafts, decision.answer, NameDeed(erase=due))


def _advance(
    scene: Scene, request: Further, wearer: str, body: Body, reasons: list[Reason], deed: NameDeed | None = None
) -> Decision:
    about = stream(StreamKind.WEARER, wearer)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    decision = deciding.accept(scene, request, [on_wearer(wearer, body)], about=about)
    return Decision(decision.drafts, decision.answer, deed)


def _may_record(scene: Scene, wearer: str) -> list[Reason]:
    reasons = privacy.may_keep(scene.bench)
    if not _wearer(scene, wearer).active:
        reasons.append(Reason("A09", "wearer-unknown", {"wearer": wearer}, role=privacy.PROGRAMME))
    return reasons


def _several(wearers: tuple[str, ...]) -> tuple[str, ...]:
    if not 0 < len(wearers) <= NAMES_MAX:
        message = f"From 1 to {NAMES_MAX} wearers are asked about at once."
        raise WrongUseError(message)
    return tuple(dict.fromkeys(wearers))


def _wearer(scene: Scene, wearer: str) -> Wearer:
    return scene.state(StreamKind.WEARER, wearer, Wearer)


def _keeping(scene: Scene) -> Keeping:
    if scene.keeping is None:
        message = "How long names are kept is not in the scene."
        raise InvariantError(message)
    return scene.keeping
