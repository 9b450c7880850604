"""Measuring instruments and machines over HTTP: until when they are verified, whether they are faulty."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.record.places import Instrument
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import ETAG, TAGGED, Asked, Named, each_seen, reading, seen, tagged
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["instruments"])
Reader = Annotated[Caller, Depends(needs("read-instruments"))]

_HIDDEN: Final = ("verified_feed", "records")
InstrumentOut = shapes.model_of(Instrument, "InstrumentOut", leave=_HIDDEN)


class InstrumentsOut(BaseModel):
    """Is one page of instruments, by id."""

    instruments: list[InstrumentOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/instruments",
    operation_id="read-instruments",
    summary="List instruments and machines",
    response_model=InstrumentsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def instruments(
    request: Request, response: Response, who: Reader, asked: Paged, site: Asked = None, sort: Asked = None
) -> dict[str, Any]:
    """Every instrument that the caller may see; the filters all hold together."""
    with reading(request) as read:
        found = (
            one
            for one in each_seen(read, who, StreamKind.INSTRUMENT, Instrument)
            if site in (None, one.site) and sort in (None, one.sort)
        )
        rows, following = page(request, response, found, lambda one: one.instrument, asked)
    return {"instruments": [shapes.values_of(one, _HIDDEN) for one in rows], "next": following}


@router.get(
    "/instruments/{instrument}",
    operation_id="read-instrument",
    summary="Tell whether what an instrument shows may be believed",
    response_class=Response,
    responses={
        200: {"description": "The instrument.", "model": InstrumentOut, "headers": ETAG},
        **TAGGED,
        **responses(*READING, "unknown-subject"),
    },
)
def instrument(request: Request, who: Reader, instrument: Named) -> Response:
    """Its sort, until when it is verified, since when it is faulty; of a machine its programmes and its load."""
    with reading(request) as read:
        found = seen(read, who, StreamKind.INSTRUMENT, instrument, Instrument)
    return tagged(request, found.number, lambda: shapes.values_of(found, _HIDDEN))
