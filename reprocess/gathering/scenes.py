"""What one request must be judged on, read from the record inside the request's own transaction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.engine.request.paper import OffLimits
from reprocess.gathering import (
    access,
    cases,
    custody,
    files,
    identity,
    loads,
    paper,
    recalls,
    signing,
    subscriptions,
    wearers,
)
from reprocess.gathering.item_scenes import for_item
from reprocess.gathering.lots import lot_scene
from reprocess.gathering.places import place_scene, unit_scene
from reprocess.gathering.reading import (
    Library,
)
from reprocess.gathering.solution_scenes import for_solution, in_doubt
from reprocess.ledger.append import Transaction
from reprocess.rules.scene import Bench, Scene


def scene_for(read: Transaction, library: Library, at: Bench, request: Request) -> Scene:
    """Returns everything that the rules may look at for this request."""
    if isinstance(request, asking.Further):
        return FURTHER[type(request)](read, library, at, request)
    match request:
        case asking.MakeSolution() | asking.TestSolution() | asking.TopUpSolution() | asking.EndSolution():
            return for_solution(read, library, at, request)
        case _:
            return for_item(read, library, at, request)


def _for_line(read: Transaction, library: Library, at: Bench, request: asking.EnterLine) -> Scene:
    work = request.work
    scene = for_item(read, library, at, work) if isinstance(work, OffLimits) else scene_for(read, library, at, work)
    solution = scene.solution
    if isinstance(request.work, asking.TestSolution) and solution is not None and solution.known:
        scene = in_doubt(read, library, scene, paper.as_of(read, solution, request.ended_us))
    return paper.with_line(read, scene, request)


def _for_identity(read: Transaction, library: Library, at: Bench, request: identity.IdentityRequest) -> Scene:
    return identity.with_others(read, library, for_item(read, library, at, request), request)


FURTHER: Final[Mapping[type[asking.Further], Callable[[Transaction, Library, Bench, Any], Scene]]] = MappingProxyType(
    {
        asking.ActOnCase: cases.for_case,
        asking.ClearWearer: wearers.for_one,
        asking.CloseCase: cases.for_case,
        asking.DecideCase: cases.for_case,
        asking.EraseName: wearers.for_erasure,
        asking.FitTestWearer: wearers.for_one,
        asking.GradeUse: cases.for_case,
        asking.KeepFile: files.for_file,
        asking.ListNames: cases.for_case,
        asking.PurgeNames: wearers.for_purge,
        asking.ReadCase: cases.for_case,
        asking.ReadNames: wearers.for_names,
        asking.RegisterWearer: wearers.for_one,
        asking.SettleReport: cases.for_case,
        asking.TellWearer: cases.for_case,
        asking.TraceWearer: wearers.for_one,
        asking.TrainWearer: wearers.for_one,
        asking.WearerLeaves: wearers.for_one,
        asking.DedicateItem: custody.for_item,
        asking.HandOn: custody.for_item,
        asking.IdentifyWearer: custody.for_identify,
        asking.IssueItem: custody.for_issue,
        asking.LendItem: custody.for_item,
        asking.ReceiveItem: custody.for_item,
        asking.ReturnItem: custody.for_return,
        asking.SendItem: custody.for_send,
        **dict.fromkeys(asking.LOT_REQUESTS, lot_scene),
        **dict.fromkeys(asking.PLACE_REQUESTS, place_scene),
        **dict.fromkeys(asking.UNIT_REQUESTS, unit_scene),
        **dict.fromkeys(
            (asking.IssueToken, asking.RotateKey, asking.SetPin, asking.UnlockSignIn, asking.WithdrawToken),
            access.for_access,
        ),
        asking.ChangeSubscription: subscriptions.for_one,
        asking.EndSubscription: subscriptions.for_one,
        asking.MakeSubscription: subscriptions.for_one,
        asking.RekeySubscription: subscriptions.for_one,
        asking.ReplaySubscription: subscriptions.for_one,
        asking.CloseRecall: recalls.for_close,
        asking.CommitRecall: recalls.for_commit,
        asking.Consent: signing.for_consent,
        asking.ReviewEntry: signing.for_review,
        asking.ReviewRefusals: signing.for_review,
        asking.PreviewRecall: recalls.for_preview,
        asking.PutInQuarantine: recalls.for_quarantine,
        asking.EnterForm: paper.for_form,
        asking.EnterLine: _for_line,
        asking.DoubtIdentity: _for_identity,
        asking.GiveTag: _for_identity,
        asking.Recommission: _for_identity,
        asking.SplitHistory: _for_identity,
        asking.TypeCode: _for_identity,
        asking.WithdrawTag: _for_identity,
        asking.AddToLoad: loads.for_adding,
        asking.EndLoad: loads.for_load,
        asking.FailLoad: loads.for_load,
        asking.OpenLoad: loads.for_opening,
        asking.RemoveFromLoad: loads.for_load,
        asking.SetProgramme: loads.for_machine,
        asking.StartLoad: loads.for_load,
        asking.UnloadLoad: loads.for_load,
    }
)
"""Who reads what the requests that go beyond one item's cycle are judged on, family by family."""
