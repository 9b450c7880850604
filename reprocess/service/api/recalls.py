"""Recalls: what each reaches, where every item is, and how much of it was located, how soon (H03, H09)."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering.recalls import Place, places
from reprocess.lookback.effectiveness import effectiveness
from reprocess.record.recalls import Recall
from reprocess.record.touching import Touched
from reprocess.service import who
from reprocess.service.answers import instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, department_of, in_sight, reading, seen
from reprocess.service.shapes import WITHHELD, InstantOut
from reprocess.service.who import Caller
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["recalls"])
Reader = Annotated[Caller, Depends(who.needs("read-recalls"))]


class RecallBriefOut(BaseModel):
    """Is one recall in a list."""

    recall: str
    state: str = Field(description="`previewed`, `open` or `closed`.")
    sort: str = Field(description="By what it is recalled.")
    name: str
    cause: str
    owner: str
    notice: str | None = Field(description="The reference of a field notice (H12).")
    listed: int = Field(description="Items of the latest preview.")
    committed: InstantOut | None
    closed: InstantOut | None
    case: str | None = Field(description="The exposure case that it opened.")


class RecallsOut(BaseModel):
    """Is one page of recalls, by id."""

    recalls: list[RecallBriefOut]
    next: str | None = None


class LocatedOut(BaseModel):
    """Is how many items were located by an age of the recall."""

    age: str = Field(examples=["1 h"])
    located: int
    total: int


class RecalledOut(BaseModel):
    """Is where one item of a recall is, or was last seen."""

    item: str
    stage: str
    site: str
    held: InstantOut
    located: InstantOut | None = Field(description="Null where nobody scanned it yet.")
    station: str | None
    seen: InstantOut | None
    quarantine: str | None


class RecallOut(RecallBriefOut):
    """Is one recall with all of its items, the ones not located first."""

    since: InstantOut | None
    until: InstantOut | None
    preview: list[str] = Field(description="The exact list that waits for its commit.")
    effectiveness: list[LocatedOut] = Field(description="Over all sites.")
    not_located: int
    left_out: int = Field(description="Items of sites that this caller may not see.")
    items: list[RecalledOut]


@router.get(
    "/recalls",
    operation_id="list-recalls",
    summary="Every recall, by id",
    response_model=RecallsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def recalls(request: Request, response: Response, caller: Reader, asked: Paged) -> dict[str, Any]:
    """Lists recalls, previewed ones too."""
    with reading(request) as read:
        found = [one for one in read.states_of(StreamKind.RECALL) if isinstance(one, Recall) and one.number]
    rows, following = page(request, response, found, lambda one: one.recall, asked)
    return {"recalls": [_brief(one, caller) for one in rows], "next": following}


@router.get(
    "/recalls/{recall}",
    operation_id="read-recall",
    summary="One recall: its items, where they are, located or not",
    response_model=RecallOut,
    responses=responses(*READING, "unknown-subject"),
)
def recall(request: Request, caller: Reader, recall: Named) -> dict[str, Any]:
    """Returns a recall; it can be closed once every item is located, or condemned as lost."""
    with reading(request) as read:
        found = seen(read, caller, StreamKind.RECALL, recall, Recall)
        everywhere = places(read, recall)
        preview = [one for one in found.items if not caller.sites or in_sight(caller, read.item(one).site)]
    shown = [one for one in everywhere if in_sight(caller, one.site)]
    now_us = department_of(request).clock.now().wall_us
    by_age = (
        effectiveness([one.located_us for one in everywhere], found.committed_us, now_us)
        if found.committed_us is not None
        else []
    )
    return _brief(found, caller) | {
        "since": _at(found.from_us),
        "until": _at(found.until_us),
        "preview": preview,
        "effectiveness": [{"age": one.age, "located": one.located, "total": one.total} for one in by_age],
        "not_located": sum(one.located_us is None for one in everywhere),
        "left_out": len(everywhere) - len(shown) + len(found.items) - len(preview),
        "items": [_told(one) for one in shown],
    }


def _brief(one: Recall, caller: Caller) -> dict[str, Any]:
    """Returns a recall in short; one by wearer tells whose only to those who may see pseudonyms."""
    state = "previewed" if one.committed_us is None else "open" if one.closed_us is None else "closed"
    hidden = one.sort == Touched.WEARER and not caller.names_wearers
    return {
        "recall": one.recall,
        "state": state,
        "sort": one.sort,
        "name": WITHHELD if hidden else one.name,
        "cause": one.cause,
        "owner": one.owner,
        "notice": one.notice,
        "listed": one.listed,
        "committed": _at(one.committed_us),
        "closed": _at(one.closed_us),
        "case": one.case,
    }


def _told(one: Place) -> dict[str, Any]:
    return {
        "item": one.item,
        "stage": one.stage,
        "site": one.site,
        "held": instant(one.held_us),
        "located": _at(one.located_us),
        "station": one.station,
        "seen": _at(one.seen_us),
        "quarantine": one.quarantine,
    }


def _at(at_us: int | None) -> str | None:
    return None if at_us is None else instant(at_us)
