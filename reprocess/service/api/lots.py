"""Lots over HTTP: what is left of each, until when it is good, whether it is recalled."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.record.lots import Lot
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, department_of, each_seen, reading, seen
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["lots"])
Reader = Annotated[Caller, Depends(needs("read-lots"))]

_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "good": (bool, Field(description="Whether it may be used now: received, in date and not recalled.")),
}
LotOut = shapes.model_of(Lot, "LotOut", more=_MORE)


class LotsOut(BaseModel):
    """Is one page of lots, by number."""

    lots: list[LotOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/lots",
    operation_id="read-lots",
    summary="List lots",
    response_model=LotsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def lots(
    request: Request,
    response: Response,
    who: Reader,
    asked: Paged,
    site: Asked = None,
    product: Asked = None,
    recalled: Annotated[bool | None, Query(description="Only what is, or is not, recalled.")] = None,
) -> dict[str, Any]:
    """Every lot that the caller may see; the filters all hold together."""
    now_us = department_of(request).clock.now().wall_us
    with reading(request) as read:
        found = (
            one
            for one in each_seen(read, who, StreamKind.LOT, Lot)
            if site in (None, one.site)
            and product in (None, one.product)
            and recalled in (None, one.recalled is not None)
        )
        rows, following = page(request, response, found, lambda one: one.lot, asked)
    return {"lots": [_fields(one, now_us) for one in rows], "next": following}


@router.get(
    "/lots/{lot}",
    operation_id="read-lot",
    summary="Tell where one lot stands",
    response_model=LotOut,
    responses=responses(*READING, "unknown-subject"),
)
def lot(request: Request, who: Reader, lot: Named) -> dict[str, Any]:
    """What it is a lot of, what is left of it, until when it is good, and the notice that recalls it."""
    with reading(request) as read:
        found = seen(read, who, StreamKind.LOT, lot, Lot)
    return _fields(found, department_of(request).clock.now().wall_us)


def _fields(lot: Lot, now_us: int) -> dict[str, Any]:
    return shapes.values_of(lot) | {"good": lot.good(now_us)}
