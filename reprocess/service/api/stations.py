"""Stations over HTTP: where work is done, on which side of the bench, in which time zone."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.record.places import Station
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, each_seen, reading, seen, unknown, zone_of
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["stations"])
Reader = Annotated[Caller, Depends(needs("read-places"))]

_HIDDEN: Final = ("number",)
_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "zone": (str, Field(description="The time zone in which it shows times.", examples=["Europe/London"])),
}
StationOut = shapes.model_of(Station, "StationOut", leave=_HIDDEN, more=_MORE)


class StationsOut(BaseModel):
    """Is one page of stations, by id."""

    stations: list[StationOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/stations",
    operation_id="read-stations",
    summary="List stations",
    response_model=StationsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def stations(request: Request, response: Response, who: Reader, asked: Paged, site: Asked = None) -> dict[str, Any]:
    """Every station that the caller may see."""
    with reading(request) as read:
        found = (
            one for one in each_seen(read, who, StreamKind.STATION, Station) if one.title and site in (None, one.site)
        )
        rows, following = page(request, response, found, lambda one: one.station, asked)
        return {"stations": [_fields(read, one) for one in rows], "next": following}


@router.get(
    "/stations/{station}",
    operation_id="read-station",
    summary="Tell about one station",
    response_model=StationOut,
    responses=responses(*READING, "unknown-subject"),
)
def station(request: Request, who: Reader, station: Named) -> dict[str, Any]:
    """Its title, its site, its side of the bench and its time zone."""
    with reading(request) as read:
        found = seen(read, who, StreamKind.STATION, station, Station)
        if not found.title:
            raise unknown(station)
        return _fields(read, found)


def _fields(read: Transaction, station: Station) -> dict[str, Any]:
    return shapes.values_of(station, _HIDDEN) | {"zone": zone_of(read, station.site)}
