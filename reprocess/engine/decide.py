"""(workflow, record, request, now) -> entries to write, or answers why not. Facts are never refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final, assert_never

from reprocess.definitions.model import Step
from reprocess.engine import (
    access,
    assembling,
    batches,
    baths,
    cabinets,
    cases,
    consenting,
    custody,
    custody_return,
    custody_transfer,
    dwells,
    ending,
    facts,
    files,
    forms,
    identity,
    load_ending,
    loads,
    lots,
    overriding,
    paper,
    places,
    recalls,
    repair,
    reviewing,
    sighting,
    steps,
    subscriptions,
    undoing,
    unloading,
    wearers,
    wearing,
)
from reprocess.engine import decision as deciding
from reprocess.engine import request as asking
from reprocess.engine.decision import Decision
from reprocess.engine.request import (
    ActOnCase,
    AddToLoad,
    Assemble,
    BreakDwell,
    ClearWearer,
    CloseCase,
    CloseRecall,
    CommitRecall,
    Condemn,
    Consent,
    Contaminate,
    Correct,
    DecideCase,
    DoStep,
    DoubtIdentity,
    EndDwell,
    EndLoad,
    EndSolution,
    EnterForm,
    EnterLine,
    EraseName,
    FailLoad,
    FailStep,
    FitTestWearer,
    Further,
    GiveTag,
    GradeUse,
    ItemRequest,
    KeepFile,
    LiftHold,
    ListNames,
    MakeSolution,
    MoveCounted,
    NoteItem,
    OpenLoad,
    PlaceHold,
    PreviewRecall,
    PurgeNames,
    PutInQuarantine,
    PutOn,
    ReadCase,
    ReadNames,
    Recommission,
    RegisterWearer,
    Release,
    RemoveFromLoad,
    ReportMethod,
    Request,
    ReviewEntry,
    ReviewRefusals,
    Rewet,
    SetAside,
    SetProgramme,
    SettleReport,
    SplitHistory,
    StartDwell,
    StartLoad,
    SwapPart,
    TakeOff,
    TellSignal,
    TellWearer,
    TestSolution,
    TopUpSolution,
    TraceWearer,
    TrainWearer,
    TypeCode,
    Undo,
    UnloadLoad,
    WearerLeaves,
    WearRequest,
    WithdrawTag,
)
from reprocess.record.changing import replace
from reprocess.rules.answer import Answer, Reason
from reprocess.rules.batteries import HAZARD
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

FURTHER: Final[Mapping[type[Further], Callable[[Scene, Any], Decision]]] = MappingProxyType(
    {
        ActOnCase: cases.act,
        AddToLoad: loads.add,
        ClearWearer: wearers.clear,
        CloseCase: cases.close,
        asking.AlarmVapour: places.alarm_vapour,
        asking.ClearLot: lots.clear,
        asking.CountLot: lots.count,
        asking.FinishRepair: repair.finish,
        asking.InspectUnit: cabinets.inspect,
        asking.OpenCabinet: cabinets.open_cabinet,
        asking.OpenPlace: places.open_place,
        asking.PutAway: places.put_away,
        asking.ReadPlace: places.read_place,
        asking.RecallLot: lots.recall,
        asking.ReceiveLot: lots.receive,
        asking.SealCabinet: cabinets.seal_cabinet,
        asking.TakeOut: places.take_out,
        asking.UseLot: lots.use,
        CloseRecall: recalls.close,
        CommitRecall: recalls.commit,
        Consent: consenting.consent,
        DecideCase: cases.decide,
        DoubtIdentity: identity.doubt,
        EndLoad: load_ending.end,
        EnterForm: forms.enter,
        EnterLine: forms.line,
        EraseName: wearers.erase,
        FailLoad: load_ending.fail,
        FitTestWearer: wearers.fit_test,
        GiveTag: identity.give_tag,
        GradeUse: cases.grade,
        KeepFile: files.keep,
        ListNames: cases.list_names,
        OpenLoad: loads.open_,
        PreviewRecall: recalls.preview,
        PurgeNames: wearers.purge,
        PutInQuarantine: recalls.quarantine,
        ReadCase: cases.read,
        ReadNames: wearers.read_names,
        Recommission: identity.recommission,
        RegisterWearer: wearers.register,
        RemoveFromLoad: loads.remove,
        ReviewEntry: reviewing.review,
        ReviewRefusals: reviewing.review_refusals,
        SetProgramme: loads.set_programme,
        SettleReport: cases.settle_report,
        SplitHistory: identity.split,
        StartLoad: loads.start,
        TellWearer: cases.tell,
        TraceWearer: wearers.trace,
        TrainWearer: wearers.train,
        TypeCode: identity.type_code,
        UnloadLoad: unloading.unload,
        WearerLeaves: wearers.leave,
        WithdrawTag: identity.withdraw_tag,
        asking.IssueToken: access.issue_token,
        asking.RotateKey: access.rotate_key,
        asking.SetPin: access.set_pin,
        asking.UnlockSignIn: access.unlock,
        asking.WithdrawToken: access.withdraw_token,
        asking.ChangeSubscription: subscriptions.change,
        asking.EndSubscription: subscriptions.end,
        asking.MakeSubscription: subscriptions.make,
        asking.RekeySubscription: subscriptions.rekey,
        asking.ReplaySubscription: subscriptions.replay,
        asking.DedicateItem: custody.dedicate,
        asking.HandOn: custody.hand_on,
        asking.IdentifyWearer: custody.identify,
        asking.IssueItem: custody.issue,
        asking.LendItem: custody.lend,
        asking.ReceiveItem: custody_transfer.receive,
        asking.ReturnItem: custody_return.give_back,
        asking.SendItem: custody_transfer.send,
    }
)
"""Who decides the requests that go beyond one item's cycle, family by family."""


def decide(request: Request, scene: Scene) -> Decision:
    """Returns what one request comes to, judged on the scene alone.

    Raises:
        WrongUseError: the request names a step, cause or sort that does not exist.
        InvariantError: the engine was about to write what must never be written.
    """
    return sighting.with_sightings(request, scene, overriding.decide(request, scene, _decided))


def _decided(request: Request, scene: Scene) -> Decision:
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
        caution=_caution(step, scene, answer),
    )


def _caution(step: Step | None, scene: Scene, answer: Answer) -> str | None:
    """Returns the caution to show: that of a battery which is a hazard (B01), that of the step, or the answer's own."""
    if any(one.sort == HAZARD for one in scene.item.holds.values()):
        return "battery"
    return step.caution if step is not None else answer.caution
