"""Exposure cases: looked into, graded, decided, told, acted on and closed by those who may know of them (H07).

The program finds who wore what was in doubt; what that means for a person is decided by licensed practitioners,
and whether an authority is told by risk management. Here stands only what they found and did.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final, cast, get_args

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision
from reprocess.engine.request import (
    ActOnCase,
    CaseRequest,
    CloseCase,
    DecideCase,
    GradeUse,
    ListNames,
    ReadCase,
    SettleReport,
    TellWearer,
)
from reprocess.engine.wearers import NAMES_MAX, shown
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.record.entry import Draft
from reprocess.record.wearers import Wearer
from reprocess.record.words import Body
from reprocess.rules import privacy
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

CAUTION: Final = "privacy"
"""What is shown with every answer about a case (`rules.cautions`)."""


def read(scene: Scene, request: ReadCase) -> Decision:
    """Lets a role that may see it look into a case; that is an entry."""
    return _recorded(scene, request, words.CaseRead(), _may_see(scene, request))


def grade(scene: Scene, request: GradeUse) -> Decision:
    """Records how likely the exposure was in one use.

    Raises:
        WrongUseError: there is no such use or grade.
    """
    case = _case(scene, request)
    if request.grade not in get_args(words.Grade):
        message = f"A use is graded as one of {', '.join(get_args(words.Grade))}, not {request.grade}."
        raise WrongUseError(message, grade=request.grade)
    if case.opened_us and not 0 < request.use <= len(case.uses):
        message = f"{request.case} has the uses 1 to {len(case.uses)}."
        raise WrongUseError(message, case=request.case)
    body = words.CaseGraded(use=request.use, grade=cast("words.Grade", request.grade), because=request.because)
    return _recorded(scene, request, body, _may_change(scene, request))


def decide(scene: Scene, request: DecideCase) -> Decision:
    """Records whether the wearers are told; every use must have been graded before."""
    case = _case(scene, request)
    reasons = _may_change(scene, request)
    if case.ungraded:
        reasons.append(Reason("H07", "uses-ungraded", {"uses": [str(one) for one in case.ungraded]}))
    body = words.CaseDecided(notify=request.notify, because=request.because)
    return _recorded(scene, request, body, reasons)


def list_names(scene: Scene, request: ListNames) -> Decision:
    """Gives out the list of those to be told, with their names: an entry for the list and one for each name."""
    case = _case(scene, request)
    reasons = _may_change(scene, request)
    if not case.notify:
        reasons.append(Reason("H07", "nobody-to-tell", {"case": request.case}))
    wearers = tuple(one for one in case.wearers if _is_registered(scene, one))[:NAMES_MAX]
    body = words.CaseListed(copy_number=case.copies + 1, wearers=len(case.wearers))
    decision = _recorded(scene, request, body, reasons)
    return decision if reasons else shown(decision, wearers, "exposure", request.case)


def tell(scene: Scene, request: TellWearer) -> Decision:
    """Records how one wearer was told, or that the wearer was not reached.

    Raises:
        WrongUseError: the case does not concern that wearer, or nobody is told so.
    """
    case = _case(scene, request)
    if request.how not in get_args(words.Told):
        message = f"A wearer is told by one of {', '.join(get_args(words.Told))}, not {request.how}."
        raise WrongUseError(message, how=request.how)
    if case.opened_us and request.wearer not in case.wearers:
        message = f"{request.case} does not concern the wearer {request.wearer}."
        raise WrongUseError(message, case=request.case)
    body = words.CaseTold(wearer=request.wearer, how=cast("words.Told", request.how))
    return _recorded(scene, request, body, _may_change(scene, request))


def act(scene: Scene, request: ActOnCase) -> Decision:
    """Records what was done so that it does not happen again."""
    return _recorded(scene, request, words.CaseActed(action=request.action), _may_change(scene, request))


def settle_report(scene: Scene, request: SettleReport) -> Decision:
    """Records whether risk management reports the case; the legal decision is made elsewhere."""
    reasons = privacy.may_settle_reports(scene.bench) + _is_there(scene, request) + _names_nobody(scene)
    body = words.CaseReportSettled(report=request.report, because=request.because)
    return _recorded(scene, request, body, reasons)


def close(scene: Scene, request: CloseCase) -> Decision:
    """Closes a case once it was decided, everybody to be told was told or not reached, and something was done."""
    case = _case(scene, request)
    reasons = _may_change(scene, request)
    if case.notify is None:
        reasons.append(Reason("H07", "case-undecided", {"case": request.case}))
    if case.notify and case.untold:
        reasons.append(Reason("H07", "wearers-untold", {"wearers": list(case.untold)}))
    if not case.actions:
        reasons.append(Reason("H07", "nothing-done", {"case": request.case}))
    told = sum(1 for one in case.wearers if case.told.get(one, "not-reached") != "not-reached")
    wearers = len(case.wearers) if case.notify else 0
    body = words.CaseClosed(effectiveness=request.effectiveness, told=told, wearers=wearers)
    return _recorded(scene, request, body, reasons)


def _is_registered(scene: Scene, wearer: str) -> bool:
    """Tells whether it is a pseudonym; staff who wore something stand in the record by their own name."""
    return scene.state(StreamKind.WEARER, wearer, Wearer).known


def _case(scene: Scene, request: CaseRequest) -> Case:
    return scene.state(StreamKind.CASE, request.case, Case)


def _recorded(scene: Scene, request: CaseRequest, body: Body, reasons: list[Reason]) -> Decision:
    about = stream(StreamKind.CASE, request.case)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    decision = deciding.accept(scene, request, [Draft(about, body)], about=about)
    return replace(decision, answer=replace(decision.answer, caution=CAUTION))


def _may_see(scene: Scene, request: CaseRequest) -> list[Reason]:
    return privacy.may_see_cases(scene.bench) + _is_there(scene, request)


def _may_change(scene: Scene, request: CaseRequest) -> list[Reason]:
    case = _case(scene, request)
    reasons = _may_see(scene, request) + _names_nobody(scene)
    if case.closed_us is not None:
        reasons.append(Reason("H07", "case-closed", {"case": request.case, "at_us": case.closed_us}))
    return reasons


def _is_there(scene: Scene, request: CaseRequest) -> list[Reason]:
    known = _case(scene, request).opened_us > 0
    return [] if known else [Reason("H07", "case-unknown", {"case": request.case})]


def _names_nobody(scene: Scene) -> list[Reason]:
    return [Reason("D13", "names-somebody", {})] if scene.names_somebody else []
