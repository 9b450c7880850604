"""Entering a form: the form first, then each of its lines, judged by the same rules as a late entry (D05-D07).

Who did it is judged, not who writes it down; a line that contradicts the record is kept, holds the item and moves
nothing. The form is as good as its countersignature: a supervisor's, and never the same person's twice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from reprocess.definitions.model import Step
from reprocess.engine import baths, facts, paper, steps
from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import (
    Contaminate,
    DoStep,
    EndDwell,
    EnterForm,
    EnterLine,
    FailStep,
    OffLimits,
    TestSolution,
)
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.forms import Form
from reprocess.record.people import Person
from reprocess.rules import competence, hold
from reprocess.rules import paper as rules
from reprocess.rules.answer import Fact, Reason, Verdict
from reprocess.rules.asked import Late
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

COUNTERSIGNS = ("supervisor",)
"""Who countersigns what was written on paper (D06)."""


def enter(scene: Scene, request: EnterForm) -> Decision:
    """Decides whether a form is entered: once, by two people, one of them a supervisor (D06).

    Raises:
        WrongUseError: it has no lines, or comes from nowhere.
    """
    if request.lines < 1 or request.source not in ("paper", "queue"):
        message = f"{request.form} has no lines that could be entered."
        raise WrongUseError(message, form=request.form)
    about = stream(StreamKind.FORM, request.form)
    form = scene.state(StreamKind.FORM, request.form, Form)
    reasons = competence.two_with_role(scene.bench, COUNTERSIGNS, "D06", two=True)
    if form.entered_us is not None:
        key = "form-entered" if form.digest == request.digest else "form-differs"
        told: dict[str, Fact] = {"form": request.form, "at_us": form.entered_us, "by": form.entered_by or "nobody"}
        reasons.append(Reason("D05", key, told))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    source: Literal["paper", "queue"] = "queue" if request.source == "queue" else "paper"
    body = words.FormEntered(source=source, lines=request.lines, digest=request.digest)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def line(scene: Scene, request: EnterLine) -> Decision:
    """Decides one line: taken, refused by a rule, or in contradiction to the record; the last two are kept as words.

    Raises:
        WrongUseError: its form was not entered, or has no such line.
    """
    form = scene.state(StreamKind.FORM, request.form, Form)
    if form.entered_us is None:
        message = f"Form {request.form} is not entered; enter it as a whole."
        raise WrongUseError(message, form=request.form)
    if not 1 <= request.line <= form.lines:
        message = f"Form {request.form} has {form.lines} lines, none of number {request.line}."
        raise WrongUseError(message, form=request.form)
    if isinstance(request.work, TestSolution):
        return _tested(scene, request, request.work)
    if not scene.item.known:
        return _unknown(scene, request)
    late = _late(request, scene)
    if isinstance(request.work, OffLimits):
        return _off_limits(scene, request, late)
    step = scene.step(request.did) if isinstance(request.work, DoStep | EndDwell) else None
    told = rules.Told(request.did, late, step)
    found = rules.contradictions(scene, told)
    if found:
        return _contradicts(scene, request, found)
    decided = _taken(scene, request, late, step)
    if decided.answer.accepted or any(isinstance(one.body, words.StepFailed) for one in decided.drafts):
        return decided
    kept = on_item(scene.item.item, _kept(request, late, list(decided.answer.reasons), conflict=False))
    return replace(decided, drafts=(*decided.drafts, kept))


def _off_limits(scene: Scene, request: EnterLine, late: Late) -> Decision:
    """Keeps a line that says released or issued: neither is done where the record cannot be seen (D09)."""
    told = [Reason("D09", "not-cut-off", {"what": request.did})]
    kept = on_item(scene.item.item, _kept(request, late, told, conflict=False))
    return deciding.refuse(scene, request, told, step=request.did, facts=[kept])


def _late(request: EnterLine, scene: Scene) -> Late:
    with_ = scene.form_line.people.get(request.done_with or "")
    by = scene.form_line.people.get(request.done_by)
    return Late(
        request.ended_us,
        request.form,
        request.began_us,
        by.person if by is not None else None,
        with_.person if with_ is not None else None,
    )


def _taken(scene: Scene, request: EnterLine, late: Late, step: Step | None) -> Decision:
    """Returns what the line comes to when it is judged as the doer's own work."""
    doer = scene.form_line.people.get(request.done_by)
    beside = scene.form_line.people.get(request.done_with or "")
    bench = replace(scene.bench, actor=doer, badge=request.done_by, second=beside, second_badge=request.done_with)
    own = replace(scene, bench=bench, lately=0)
    unfit = [*_countersigned(scene, doer), *_unfit(own, request, doer, step)]
    if beside is None:  # a form is never without its second person; nobody stood by for all that
        own = replace(own, bench=replace(bench, second=scene.bench.second, second_badge=None))
    if own.bench.special.waived is None:  # a supervisor countersigned it, however late it is (D05)
        own = replace(own, bench=replace(own.bench, special=replace(own.bench.special, waived="D05")))
    work = request.work
    match work:
        case Contaminate():
            told = f"form {request.form} line {request.line}"
            note = told if work.note is None else f"{told}: {work.note}"
            ended_us = work.use_ended_us if work.use_ended_us is not None else request.ended_us
            decided = facts.contaminate(own, replace(work, note=note, use_ended_us=ended_us))
            return _dated(decided, request.ended_us)
        case FailStep():
            return _dated(steps.fail(own, work), request.ended_us)
        case DoStep() if not unfit:
            return steps.do(own, replace(work, late=late))
        case EndDwell() if not unfit:
            return paper.end(own, replace(work, late=late), late)
        case _:
            return deciding.refuse(own, request, unfit, step=request.did)


def _countersigned(scene: Scene, doer: Person | None) -> list[Reason]:
    """Returns why a line is not countersigned: by two people, one of them a supervisor who did not do it (D06)."""
    bench = scene.bench
    reasons = competence.two_with_role(bench, COUNTERSIGNS, "D06", two=True)
    present = [one for one in (bench.actor, bench.second) if one is not None]
    able = [one for one in present if set(one.roles) & set(COUNTERSIGNS)]
    if reasons or doer is None or any(one.person != doer.person for one in able):
        return reasons
    return competence.same_person(doer, doer)


def _unfit(scene: Scene, request: EnterLine, doer: Person | None, step: Step | None) -> list[Reason]:
    """Returns why whoever did it could not: unknown, not competent then, or alone where two are needed."""
    if doer is None:
        return [Reason("A01", "badge-unknown", {"badge": request.done_by}, role="supervisor")]
    if step is None:
        return []
    reasons = competence.may_do(scene, step, as_of_us=request.ended_us)
    return [*reasons, *rules.in_time(scene.item, step, request.began_us, request.ended_us)]


def _dated(decided: Decision, at_us: int) -> Decision:
    """Returns the decision with its entries dated when the form says that it happened."""
    drafts = tuple(replace(one, occurred_us=at_us) if one.occurred_us is None else one for one in decided.drafts)
    return replace(decided, drafts=drafts)


def _contradicts(scene: Scene, request: EnterLine, found: list[Reason]) -> Decision:
    """Returns the decision that keeps a line beside the record it contradicts, and holds the item (D07).

    A fact that contradicts the record is taken all the same: in doubt the item starts again, or its step fell.
    """
    item, late = scene.item, _late(request, scene)
    drafts: list[Draft] = []
    if isinstance(request.work, Contaminate | FailStep) and not any(one.key == "earlier-cycle" for one in found):
        drafts += _taken(scene, request, late, None).drafts
    drafts.append(on_item(item.item, _kept(request, late, found, conflict=True)))
    told = [one for one in item.holds.values() if one.rule == "D07"]
    if not told:
        cause = f"history conflict: form {request.form} line {request.line}, {request.did}"
        ahead = sum(1 for one in drafts if one.stream == deciding.subject(scene)) + 1
        name = deciding.hold_id(item, "administrative", ahead)
        drafts.append(on_item(item.item, hold.placed(name, "administrative", "D07", cause, "supervisor")))
        drafts += deciding.whole_held(scene, item, "administrative", cause, "supervisor")
    return deciding.found(scene, request, drafts, found, (), step=request.did, otherwise=Verdict.HELD)


def _kept(request: EnterLine, late: Late, found: list[Reason], *, conflict: bool) -> words.PaperLineKept:
    return words.PaperLineKept(
        form=request.form,
        line=request.line,
        did=request.did,
        began_us=request.began_us,
        ended_us=request.ended_us,
        done_by=late.done_by,
        done_with=late.done_with,
        conflict=conflict,
        because=tuple(dict.fromkeys(one.key for one in found)),
        rules=tuple(dict.fromkeys(one.rule for one in found)),
    )


def _unknown(scene: Scene, request: EnterLine) -> Decision:
    """Keeps a line about an item that is not on record, in the site's stream."""
    held = {"form": request.form, "line": str(request.line), "did": request.did, "by": request.done_by}
    body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words=held)
    told = [Reason("P05", "unknown-item", {"item": scene.item.item})]
    drafts = [on_site(scene.bench, body)]
    return deciding.found(scene, request, drafts, told, (), otherwise=Verdict.REFUSED)


def _tested(scene: Scene, request: EnterLine, work: TestSolution) -> Decision:
    """Decides a strip test that only a form tells of: a failed one holds as ever, a passed one opens nothing (L03).

    The scene reaches back to the last valid pass before the time on the form.
    """
    about = stream(StreamKind.SOLUTION, work.solution)
    doer = scene.form_line.people.get(request.done_by)
    own = replace(scene, bench=replace(scene.bench, actor=doer, badge=request.done_by))
    if request.ended_us > scene.bench.now_us:
        told = [Reason("D05", "not-in-the-past", {"at_us": request.ended_us})]
        return deciding.refuse(scene, request, told, about=about)
    decided = baths.test(own, work)
    passed = [one for one in decided.drafts if isinstance(one.body, words.SolutionTested) and one.body.passed]
    if not passed:
        return _dated(decided, request.ended_us)
    told = [Reason("D05", "pass-on-paper", {"solution": work.solution, "paper": request.form})]
    kept = _kept(request, _late(request, scene), told, conflict=False)
    return deciding.accept(scene, request, [Draft(about, kept, request.ended_us)], warnings=told, about=about)


__all__ = ["enter", "line"]
