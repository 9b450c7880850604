"""Holds at the desk: every open one, what settles it, who may lift it; placing, lifting, and where the item lies."""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.definitions.holds import HoldType
from reprocess.engine import request as asking
from reprocess.engine.request import Request as AnyRequest
from reprocess.pictures.drawing import drawn
from reprocess.pictures.holds import holds as plot
from reprocess.pictures.picture import frame_in
from reprocess.pictures.rows.holds import holds as ages_of
from reprocess.service import who
from reprocess.service.api import holds as api
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.desk.life import full_minute
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of
from reprocess.service.paging import Cursor
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import NAME, department_of, in_sight, reading
from reprocess.service.who import Caller

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-items"))]
MOST: Final = 200
After = Annotated[str | None, Query(min_length=1, max_length=64, pattern=NAME)]


@router.get("/holds")
def listed(request: Request, caller: Reader, sort: str | None = None, after: After = None) -> Response:
    """Show every open hold, of one sort only where asked."""
    return _list(request, caller, sort, after)


def _list(
    request: Request,
    caller: Caller,
    sort: str | None = None,
    after: str | None = None,
    *,
    status: int = 200,
    **more: Any,
) -> Response:
    chosen = sort if sort in {str(one) for one in HoldType} else None
    whole = api.holds(request, Response(), caller, Cursor(MOST, after), sort=chosen)
    found = whole["holds"]
    department = department_of(request)
    zone = department.zone_of_station(caller.station or "")
    frame = frame_in(rendering.words_for(request).texts, zone, "holds")
    with reading(request) as read:
        ages = ages_of((one for one in read.items() if in_sight(caller, one.site)), full_minute(department.clock.now()))
    told = {
        "holds": found,
        "following": whole["next"],
        "counts": Counter(one.sort for one in found),
        "sorts": [str(one) for one in HoldType],
        "chosen": chosen,
        "zone": zone,
        "picture": drawn(plot(ages, frame)) if ages.total else None,
        "may_lift": who.may_of(caller, "lift-hold") is None,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/holds.html", status=status, caller=caller, **told | more)


@router.post("/holds/{deed}")
async def change(request: Request, caller: Reader, deed: str, form: Annotated[Form, Depends(form_of)]) -> Response:
    """Place a hold, lift one, or name the quarantine place where the item lies."""
    show = partial(_list, request, caller)
    comes_back(request, form, show)
    answer = await acting.act(request, caller, form, _asked(deed, form))
    return await acting.answered(request, caller, answer, show)


def _asked(deed: str, form: Form) -> AnyRequest:
    """Returns the request that a form makes.

    Raises:
        ProblemError: there is no such form, or a field is missing.
    """
    item = form.must("item")
    match deed:
        case "place":
            cause = form.must("cause")
            return asking.PlaceHold(item, form.must("sort"), cause, form.must("owner"), form.get("evidence"))
        case "lift":
            return asking.LiftHold(item, form.must("hold"), form.must("disposition"), form.get("evidence"))
        case "quarantine":
            return asking.PutInQuarantine(item, form.must("place"))
        case _:
            message = "There is no such form."
            raise ProblemError("not-found", message)
