"""Which item a tag means, and the other items that a question about identity concerns."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering.reading import Library, parts_of, wholes_of
from reprocess.ledger.append import Transaction
from reprocess.record.touching import Touched
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

IdentityRequest = (
    asking.TypeCode
    | asking.GiveTag
    | asking.WithdrawTag
    | asking.DoubtIdentity
    | asking.SplitHistory
    | asking.Recommission
)


NAMING = ("item", "part", "other", "again")
"""The fields of a request that name an item."""


def meant(read: Transaction, request: Request) -> Request:
    """Returns the request about the item that its tag means; an id always means its own item (E22)."""
    if isinstance(request, asking.EnterLine):
        return replace(request, work=_with_item(read, request.work))
    meaning: Request = _with_item(read, request)
    return meaning


def _with_item(read: Transaction, request: Any) -> Any:
    named = {name: getattr(request, name, None) for name in NAMING}
    changed: dict[str, Any] = {name: _bearer(read, one) for name, one in named.items() if isinstance(one, str)}
    members = getattr(request, "members", None)
    if isinstance(members, tuple):
        changed["members"] = tuple(_bearer(read, one) for one in members)
    if all(getattr(request, name) == one for name, one in changed.items()):
        return request
    return replace(request, **changed)


def _bearer(read: Transaction, name: str) -> str:
    """Returns the item that a name means: itself where it is on record, else whoever bears it as a tag."""
    return name if read.item(name).known else bearer_of(read, name) or name


def bearer_of(read: Transaction, tag: str) -> str | None:
    """Returns the item that a given tag means now, or None."""
    rows = read.touches.of(Touched.TAG, tag)
    return next((row.item for row in rows if row.open_now), None)


def with_others(read: Transaction, library: Library, scene: Scene, request: IdentityRequest) -> Scene:
    """Returns the scene with the other items that the request concerns; with the whole history where it is split."""
    match request:
        case asking.GiveTag():
            names = [request.tag, bearer_of(read, request.tag)]
        case asking.DoubtIdentity() | asking.SplitHistory():
            names = [request.other]
        case asking.Recommission():
            names = [request.new, bearer_of(read, request.new)]
        case _:
            names = []
    found = parts_of(read, library, tuple(name for name in names if name is not None))
    if isinstance(request, asking.SplitHistory):
        members = [name for one in found.values() for name in one.standing.members.values()]
        found |= parts_of(read, library, tuple(members))
    if isinstance(request, asking.Recommission) and found:
        found = {**found, request.new: next(iter(found.values()))}
    scene = replace(scene, parts={**scene.parts, **found})
    wholes = wholes_of(read, library, [one.standing for one in found.values()])
    scene = replace(scene, wholes={**scene.wholes, **wholes})
    if isinstance(request, asking.SplitHistory):
        entries = read.entries_of(stream(StreamKind.ITEM, scene.item.item))
        scene = replace(scene, recent=tuple(entries))
    return scene
