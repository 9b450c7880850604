"""Reminders at the desk: what is overdue and what comes within a day, whether a bell is at work, and who saw what."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.service import who
from reprocess.service.api import reminders as api
from reprocess.service.pages import rendering
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, fitting, form_of
from reprocess.service.who import Caller

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-due"))]
MOST: Final = 200


@router.get("/reminders")
def listed(request: Request, caller: Reader, after: Annotated[int, Query(ge=0, le=10**9)] = 0) -> Response:
    """Show what is due, the overdue first."""
    return _list(request, caller, after)


def _list(request: Request, caller: Caller, after: int = 0, *, status: int = 200, **more: Any) -> Response:
    found = api.reminders(request, Response(), caller, limit=MOST, after=after)
    told: dict[str, Any] = {"due": found, "seen": None, "shown": None, "typed": Typed()}
    return rendering.page(request, "desk/reminders.html", status=status, caller=caller, **told | more)


@router.post("/reminders/seen")
async def seen(
    request: Request,
    caller: Annotated[Caller, Depends(who.needs(api.SEEING))],
    form: Annotated[Form, Depends(form_of)],
) -> Response:
    """Acknowledge what rang."""
    comes_back(request, form, partial(_list, request, caller))
    with fitting():
        given = api.SeenIn(key=form.must("reminder"))
    told = await api.seen(request, caller, given)
    return await anyio.to_thread.run_sync(lambda: _list(request, caller, seen=told.seen))
