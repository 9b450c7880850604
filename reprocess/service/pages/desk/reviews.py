"""Exceptions at the desk: what is unusual and waits for a supervisor, one by one, signed with what was shown."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Path, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine import request as asking
from reprocess.service import who
from reprocess.service.api import reviews as api
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of, see
from reprocess.service.paging import Cursor
from reprocess.service.seeing import department_of
from reprocess.service.who import Caller

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-reviews"))]
Sent = Annotated[Form, Depends(form_of)]
Number = Annotated[int, Path(ge=1, le=2**53 - 1)]
MOST: Final = 200


@router.get("/reviews")
def listed(request: Request, caller: Reader, after: Annotated[int, Query(ge=0, le=2**53 - 1)] = 0) -> Response:
    """Show what waits, oldest first, and the refusals that repeat."""
    return _list(request, caller, after)


def _list(request: Request, caller: Caller, after: int = 0, *, status: int = 200, **more: Any) -> Response:
    told = {
        "found": api.reviews(request, Response(), caller, Cursor(MOST, str(after) if after else None)),
        "zone": department_of(request).zone_of_station(caller.station or ""),
        "may_sign": who.may_of(caller, "review-refusals") is None,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/reviews.html", status=status, caller=caller, **told | more)


@router.get("/reviews/{feed}")
def shown(request: Request, caller: Reader, feed: Number) -> Response:
    """Show one entry as whoever signs its review sees it."""
    return _one(request, caller, feed)


def _one(request: Request, caller: Caller, feed: int, *, status: int = 200, **more: Any) -> Response:
    told = {
        "entry": api.review(request, caller, feed),
        "zone": department_of(request).zone_of_station(caller.station or ""),
        "may_sign": who.may_of(caller, "review-entry") is None,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/review.html", status=status, caller=caller, **told | more)


@router.post("/reviews/refusals")
async def review_refusals(request: Request, caller: Reader, form: Sent) -> Response:
    """Keep that the refusals up to an entry were looked at."""
    show = partial(_list, request, caller)
    comes_back(request, form, show)
    asked = asking.ReviewRefusals(form.number("until") or 0, form.must("finding"))
    answer = await acting.act(request, caller, form, asked)
    return await acting.answered(request, caller, answer, show)


@router.post("/reviews/{feed}")
async def review(request: Request, caller: Reader, feed: Number, form: Sent) -> Response:
    """Keep that an unusual entry was looked at, and what was found; then go on with the list."""
    show = partial(_one, request, caller, feed)
    comes_back(request, form, show)
    answer = await acting.act(request, caller, form, asking.ReviewEntry(feed, form.must("finding")))
    if answer.accepted:
        return see("/desk/reviews")
    return await acting.answered(request, caller, answer, show)
