"""Places over HTTP: what they are, what their sensors show, what lies there and whether that is enough."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import part_of
from reprocess.gathering.places import items_at
from reprocess.record.stores import Place
from reprocess.rules.scene import Part
from reprocess.service import shapes
from reprocess.service.answers import instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import (
    ETAG,
    TAGGED,
    Asked,
    Named,
    department_of,
    each_seen,
    in_sight,
    reading,
    seen,
    tagged,
)
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import ItemLine, line
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["places"])
Reader = Annotated[Caller, Depends(needs("read-places"))]

PlaceOut = shapes.model_of(Place, "PlaceOut")


class PlacesOut(BaseModel):
    """Is one page of places, by id."""

    places: list[PlaceOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


class StockOut(BaseModel):
    """Is what lies at a place now, what is first due to be used first."""

    place: str
    as_of: InstantOut
    par: int | None = Field(description="How many ready units should lie there.")
    ready: int = Field(description="How many usable ones do.")
    short: int = Field(description="How many are missing to par.")
    restock: str | None = Field(description="Why it must be filled up.")
    items: list[ItemLine]


@router.get(
    "/places",
    operation_id="read-places",
    summary="List places",
    response_model=PlacesOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def places(
    request: Request, response: Response, who: Reader, asked: Paged, site: Asked = None, sort: Asked = None
) -> dict[str, Any]:
    """Every place that the caller may see; the filters all hold together."""
    with reading(request) as read:
        found = (
            one
            for one in each_seen(read, who, StreamKind.PLACE, Place)
            if site in (None, one.site) and sort in (None, one.sort)
        )
        rows, following = page(request, response, found, lambda one: one.place, asked)
    return {"places": [shapes.values_of(one) for one in rows], "next": following}


@router.get(
    "/places/{place}",
    operation_id="read-place-standing",
    summary="Tell what one place is, and what its sensors show",
    response_class=Response,
    responses={
        200: {"description": "The place.", "model": PlaceOut, "headers": ETAG},
        **TAGGED,
        **responses(*READING, "unknown-subject"),
    },
)
def place(request: Request, who: Reader, place: Named) -> Response:
    """Its sort, zone, limits, latest readings and seal; what lies there has an address of its own."""
    with reading(request) as read:
        found = seen(read, who, StreamKind.PLACE, place, Place)
    return tagged(request, found.number, lambda: shapes.values_of(found))


@router.get(
    "/places/{place}/items",
    operation_id="read-place-items",
    summary="Tell what lies at a place, and whether it is enough",
    response_model=StockOut,
    responses=responses(*READING, "unknown-subject"),
)
def lying(request: Request, who: Reader, place: Named) -> dict[str, Any]:
    """Every item that was scanned there and not out again; what ends first stands first."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        found = seen(read, who, StreamKind.PLACE, place, Place)
        parts = [part_of(read, department.library, read.item(name)) for name in items_at(read, place)]
    shown = sorted((one for one in parts if one is not None and in_sight(who, one.standing.site)), key=_first_due)
    lines = [line(one, now) for one in shown]
    ready = sum(1 for one in lines if one["usable"])
    return {
        "place": place,
        "as_of": instant(now.wall_us),
        "par": found.par,
        "ready": ready,
        "short": max(0, (found.par or 0) - ready),
        "restock": found.restock,
        "items": lines,
    }


_NEVER: Final = 2**63


def _first_due(part: Part) -> tuple[int, str]:
    item = part.standing
    return item.ready_until_us if item.ready_until_us is not None else _NEVER, item.item
