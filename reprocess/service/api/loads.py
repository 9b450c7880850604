"""Loads of machines over HTTP: what is in them, what their record shows, whether they passed."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.record.loads import Load, LoadState
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, each_seen, reading, seen
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["loads"])
Reader = Annotated[Caller, Depends(needs("read-loads"))]

_HIDDEN: Final = ("started_feed",)
_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "miscounted": (bool, Field(description="Whether what came out is not what went in, and nobody settled it yet.")),
    "still_in": (list[str], Field(description="What was not scanned out, by id.")),
}
LoadOut = shapes.model_of(Load, "LoadOut", leave=_HIDDEN, more=_MORE)


class LoadsOut(BaseModel):
    """Is one page of loads, by id."""

    loads: list[LoadOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/loads",
    operation_id="read-loads",
    summary="List loads",
    response_model=LoadsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def loads(
    request: Request,
    response: Response,
    who: Reader,
    asked: Paged,
    site: Asked = None,
    machine: Asked = None,
    state: Annotated[LoadState | None, Query(description="Only loads that stand there.")] = None,
) -> dict[str, Any]:
    """Every load that the caller may see; the filters all hold together."""
    with reading(request) as read:
        found = (
            one
            for one in each_seen(read, who, StreamKind.LOAD, Load)
            if site in (None, one.site) and machine in (None, one.machine) and state in (None, one.state)
        )
        rows, following = page(request, response, found, lambda one: one.load, asked)
    return {"loads": [_fields(one) for one in rows], "next": following}


@router.get(
    "/loads/{load}",
    operation_id="read-load",
    summary="Tell where one load stands",
    response_model=LoadOut,
    responses=responses(*READING, "unknown-subject"),
)
def load(request: Request, who: Reader, load: Named) -> dict[str, Any]:
    """What is in it, its record and doses of heat, its indicators, and what is missing or strange."""
    with reading(request) as read:
        return _fields(seen(read, who, StreamKind.LOAD, load, Load))


def _fields(load: Load) -> dict[str, Any]:
    return shapes.values_of(load, _HIDDEN) | {"miscounted": load.miscounted, "still_in": list(load.still_in)}
