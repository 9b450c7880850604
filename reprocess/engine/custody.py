"""Issue: who takes an item, looked over and fit for the wear that is planned; loans; and who it was, told later."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine import decision as deciding
from reprocess.engine import exposing, wearing
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request.custody import DedicateItem, HandOn, IdentifyWearer, IssueItem, LendItem
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.wearers import Wearer
from reprocess.rules import competence, custody, instrument, override, reading
from reprocess.rules.answer import Reason
from reprocess.rules.eligible import eligible
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US, StreamKind

MINUTES_MOST = 24 * 60
"""Longest wear that is believed, in minutes (our choice)."""


def issue(scene: Scene, request: IssueItem) -> Decision:
    """Decides an issue: refused with every reason; a no in the look-over is a fact that holds it (U01-U03).

    Raises:
        WrongUseError: the purpose or the minutes cannot be meant.
    """
    _must_be_meant(request)
    item = scene.item
    if not item.known:
        return deciding.refuse(scene, request, [Reason("P05", "unknown-item", {"item": item.item})])
    workflow = scene.as_part().workflow
    apart = workflow.item_class == "assembly" and not item.members  # then there is nothing to look over
    look = None if apart else custody.look_of(workflow)
    judged = reading.Judged((), (), (), {})
    if look is not None:
        judged = reading.judge(look, request.checks, request.readings, request.counts, scene.configuration)
    if judged.failed:
        return wearing.unfit(scene, request, judged, "found at issue", [custody.offered(scene)])
    who_not, warnings = custody.who_takes(request.wearer, request.purpose, item.item)
    passable = [*custody.may_leave(scene), *custody.stays(item, request.place, scene.bench), *_eligible(scene, request)]
    reasons = [
        *competence.known(scene.bench),
        *override.left(scene.bench, passable),
        *who_not,
        *(instrument.believable(scene, look, request.instrument) if look is not None else []),
        *judged.unread,
        *judged.missing,
        *custody.charged_for(request.readings, request.minutes),
    ]
    if reasons:
        return deciding.refuse(scene, request, reasons)
    warnings += custody.warned(scene, request.wearer)
    now_us = scene.bench.now_us
    body = words.ItemIssued(
        cycle=item.cycle,
        wearer=request.wearer,
        place=request.place,
        purpose=request.purpose,
        expected_us=None if request.minutes is None else now_us + request.minutes * 60 * SECOND_US,
        members=dict(item.members),
        counts=dict(item.counts),
        configuration=item.configuration,
        checks=request.checks,
        readings=request.readings,
        instrument=request.instrument if look is not None and look.instrument is not None else None,
        warned=tuple(dict.fromkeys(one.rule for one in warnings)),
    )
    decision = deciding.accept(scene, request, [on_item(item.item, body)], warnings=warnings)
    return replace(decision, answer=replace(decision.answer, cautions=custody.cautions_of(workflow)))


def _must_be_meant(request: IssueItem) -> None:
    if request.purpose not in custody.PURPOSES:
        message = f"An item is issued for one of {', '.join(custody.PURPOSES)}, not {request.purpose}."
        raise WrongUseError(message, purpose=request.purpose)
    if request.minutes is not None and not 0 < request.minutes <= MINUTES_MOST:
        message = f"A wear is expected to last 1 to {MINUTES_MOST} minutes, not {request.minutes}."
        raise WrongUseError(message)
    if not request.place:
        message = "Say to which room or unit it goes."
        raise WrongUseError(message)


def _eligible(scene: Scene, request: IssueItem) -> list[Reason]:
    """Returns why this wearer may not be given this item (A09)."""
    if request.wearer is None:
        return []
    wearer = scene.state(StreamKind.WEARER, request.wearer, Wearer)
    return eligible(scene, replace(wearer, wearer=request.wearer), request.purpose)


def identify(scene: Scene, request: IdentifyWearer) -> Decision:
    """Records who has, or had, what was issued to nobody on record (U01)."""
    if not scene.state(StreamKind.WEARER, request.wearer, Wearer).known:
        told = [Reason("A09", "wearer-unknown", {"wearer": request.wearer}, role="programme-administrator")]
        return deciding.refuse(scene, request, told)
    known = {one.body.number for one in scene.recent if isinstance(one.body, words.WearerIdentified)}
    issues = [
        one
        for one in scene.recent
        if isinstance(one.body, words.ItemIssued | words.PartKept)
        and one.body.wearer is None
        and one.number not in known
        and request.number in (None, one.number)
    ]
    if len(issues) > 1:
        waiting = [str(one.number) for one in issues]
        told = [Reason("U01", "which-issue", {"item": scene.item.item, "numbers": waiting})]
        return deciding.refuse(scene, request, told)
    if not issues:
        told = [Reason("U01", "nobody-to-name", {"item": scene.item.item})]
        return deciding.refuse(scene, request, told)
    issue = issues[-1]
    body = words.WearerIdentified(number=issue.number, wearer=request.wearer)
    listed = exposing.named_in_cases(scene, issue.at_us, request.wearer)
    return deciding.accept(scene, request, [on_item(scene.item.item, body), *listed])


def hand_on(scene: Scene, request: HandOn) -> Decision:
    """Decides whether an issued item is put on once more: by the same wearer, within one shift (U06)."""
    reasons = custody.worn_by_another(scene, request.wearer)
    if reasons:
        return deciding.refuse(scene, request, reasons)
    return deciding.accept(scene, request, [on_item(scene.item.item, words.WornAgain(wearer=request.wearer))])


def lend(scene: Scene, request: LendItem) -> Decision:
    """Decides a loan outside the network, with the day on which it is due back (U14).

    Raises:
        WrongUseError: it would be due in the past.
    """
    if request.due_us <= scene.bench.now_us or not request.to:
        message = "A loan names who borrows it, and a day to come on which it is due back."
        raise WrongUseError(message)
    item = scene.item
    if not item.known:
        return deciding.refuse(scene, request, [Reason("P05", "unknown-item", {"item": item.item})])
    reasons = [
        *competence.known(scene.bench),
        *custody.may_leave(scene),
        *override.left(scene.bench, [*custody.stays(item, request.to, scene.bench), *custody.may_lend(scene)]),
    ]
    if reasons:
        return deciding.refuse(scene, request, reasons)
    body = words.ItemLent(
        cycle=item.cycle,
        to=request.to,
        due_us=request.due_us,
        members=dict(item.members),
        counts=dict(item.counts),
    )
    return deciding.accept(scene, request, [on_item(item.item, body)])


def dedicate(scene: Scene, request: DedicateItem) -> Decision:
    """Decides that an item serves one place or one wearer only, or everybody again (C07, C11)."""
    item = scene.item
    if not item.known:
        return deciding.refuse(scene, request, [Reason("P05", "unknown-item", {"item": item.item})])
    reasons = competence.two_with_role(scene.bench, custody.LEND_ROLES, "C11", two=False)
    if reasons:
        return deciding.refuse(scene, request, reasons)
    body = words.ItemDedicated(place=request.place, wearer=request.wearer)
    return deciding.accept(scene, request, [on_item(item.item, body)])
