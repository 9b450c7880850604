"""(workflow, record, request, now) -> entries to write, or answers why not. Facts are never refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final, assert_never

from reprocess.engine import assembling, batches, baths, dwells, ending, facts, paper, steps, undoing, wearing
from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision
from reprocess.engine.request import (
    Assemble,
    BreakDwell,
    Condemn,
    Contaminate,
    Correct,
    DoStep,
    EndDwell,
    EndSolution,
    FailStep,
    Further,
    ItemRequest,
    LiftHold,
    MakeSolution,
    MoveCounted,
    NoteItem,
    PlaceHold,
    PutOn,
    Release,
    ReportMethod,
    Request,
    Rewet,
    SetAside,
    StartDwell,
    SwapPart,
    TakeOff,
    TellSignal,
    TestSolution,
    TopUpSolution,
    Undo,
    WearRequest,
)
from reprocess.rules.answer import Answer, Reason
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Scene
from reprocess.rules.sequence import next_steps

FACTS = (
    BreakDwell,
    Contaminate,
    FailStep,
    MoveCounted,
    NoteItem,
    PlaceHold,
    ReportMethod,
    SetAside,
    TakeOff,
    TellSignal,
)
"""Requests about an item that state what happened."""

FURTHER: Final[Mapping[type[Further], Callable[[Scene, Any], Decision]]] = MappingProxyType({})
"""Who decides the requests that go beyond one item's cycle, family by family."""


def decide(request: Request, scene: Scene) -> Decision:
    """Returns what one request comes to, judged on the scene alone.

    Raises:
        WrongUseError: the request names a step, cause or sort that does not exist.
        InvariantError: the engine was about to write what must never be written.
    """
    if isinstance(request, Further):
        return FURTHER[type(request)](scene, request)
    match request:
        case MakeSolution():
            return baths.make(scene, request)
        case TestSolution():
            return baths.test(scene, request)
        case TopUpSolution():
            return baths.top_up(scene, request)
        case EndSolution():
            return baths.finish(scene, request)
        case _:
            return _about_item(request, scene)


def _about_item(request: ItemRequest, scene: Scene) -> Decision:
    if not scene.item.known:
        if isinstance(request, FACTS):
            return facts.noted(scene, request)
        told = [Reason("P05", "unknown-item", {"item": scene.item.item})]
        return deciding.refuse(scene, request, told)
    match request:
        case DoStep() | FailStep() | Release() | StartDwell() | Rewet() | BreakDwell() | EndDwell():
            return _step(request, scene)
        case Undo():
            return undoing.undo(scene, request)
        case Correct():
            return undoing.correct(scene, request)
        case Assemble():
            return assembling.assemble(scene, request)
        case PutOn() | TakeOff() | TellSignal() | SwapPart():
            return _worn(request, scene)
        case _:
            return _fact(request, scene)


def _worn(request: WearRequest, scene: Scene) -> Decision:
    match request:
        case PutOn():
            return wearing.put_on(scene, request)
        case TakeOff():
            return wearing.take_off(scene, request)
        case TellSignal():
            return wearing.tell_signal(scene, request)
        case SwapPart():
            return wearing.swap(scene, request)
        case _:
            assert_never(request)


def _fact(
    request: Contaminate | ReportMethod | PlaceHold | LiftHold | Condemn | SetAside | NoteItem | MoveCounted,
    scene: Scene,
) -> Decision:
    match request:
        case Contaminate():
            return facts.contaminate(scene, request)
        case ReportMethod():
            return facts.report_method(scene, request)
        case PlaceHold():
            return facts.place_hold(scene, request)
        case LiftHold():
            return facts.lift_hold(scene, request)
        case Condemn():
            return facts.condemn(scene, request)
        case SetAside():
            return facts.set_aside(scene, request)
        case NoteItem():
            return facts.note(scene, request)
        case MoveCounted():
            return batches.move(scene, request)
        case _:
            assert_never(request)


def _step(
    request: DoStep | FailStep | Release | StartDwell | Rewet | BreakDwell | EndDwell,
    scene: Scene,
) -> Decision:
    match request:
        case DoStep():
            return steps.do(scene, request)
        case FailStep():
            return steps.fail(scene, request)
        case Release():
            return steps.release_item(scene, request)
        case StartDwell():
            return dwells.start(scene, request)
        case Rewet():
            return dwells.rewet(scene, request)
        case BreakDwell():
            return dwells.break_(scene, request)
        case EndDwell() if request.late is not None:
            return paper.end(scene, request, request.late)
        case EndDwell():
            return ending.end(scene, request)
        case _:
            assert_never(request)


def described(answer: Answer, scene: Scene) -> Answer:
    """Returns the answer with where the item stands now, what may come next and its running clock.

    `scene` holds the standing after the entries of the decision.
    """
    workflow, item = scene.workflow, scene.item
    if workflow is None or not item.known:
        return answer
    step = workflow.step_named(answer.step or "")
    return replace(
        answer,
        stage=str(item.stage),
        next_steps=next_steps(workflow, item, scene.bench.now_us),
        clock=clock_of(item.dwell, scene.bench.moment) if item.dwell is not None else None,
        caution=step.caution if step is not None else None,
    )
