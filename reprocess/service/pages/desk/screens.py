"""Screens at the desk: the browsers that show a station's work with nobody signed in, and enrolling this one."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import WithdrawToken
from reprocess.rules.permissions import ENROL_SCREEN
from reprocess.service import who
from reprocess.service.api.sessions import enrol_screen, keep_screen
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import Named
from reprocess.service.served import served
from reprocess.service.who import Caller
from reprocess.terms import DAY_S, SECOND_US

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk/screens")
Reader = Annotated[Caller, Depends(who.needs("read-tokens"))]
Sent = Annotated[Form, Depends(form_of)]
LASTS_US: Final = 180 * DAY_S * SECOND_US
"""Half a year (our choice; a token lasts a year at most)."""


@router.get("")
def listed(request: Request, caller: Reader) -> Response:
    """Show every screen that was ever enrolled, and the form that makes this browser one."""
    return _list(request, caller)


def _list(request: Request, caller: Caller, *, status: int = 200, **more: Any) -> Response:
    parts = served(request)
    found = [one for one in who.programs_of(parts).listed() if one.token.station is not None]
    told = {
        "screens": found,
        "this": who.screen_of(request),
        "now_us": parts.department.clock.now().wall_us,
        "zone": parts.department.zone_of_station(caller.station or ""),
        "key": acting.new_key(request),
        "until_us": parts.department.clock.now().wall_us + LASTS_US,
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/screens.html", status=status, caller=caller, **told | more)


@router.post("")
async def enrol(request: Request, caller: Annotated[Caller, Depends(who.needs(ENROL_SCREEN))], form: Sent) -> Response:
    """Make this browser the screen of the station at which its supervisor is signed in."""
    show = partial(_list, request, caller)
    comes_back(request, form, show)
    parts = served(request)
    now_us = parts.department.clock.now().wall_us
    until_us = min(_until(form), now_us + LASTS_US)
    wanted = (form.name("screen"), form.must("label"), until_us)
    acting.must_be_plain(wanted)
    answer, secret = await anyio.to_thread.run_sync(enrol_screen, request, caller, form.key, wanted, form.signs)
    made = await acting.answered(request, caller, answer, show)
    if secret is not None:
        keep_screen(made, parts, secret, until_us)
    return made


def _until(form: Form) -> int:
    """Returns until when the screen counts, as the form was made with it: the same form sent twice asks the same."""
    told = form.must("until")
    if not told.isascii() or not told.isdigit() or len(told) > INSTANT_DIGITS:
        message = "The form is not as this page made it; open the page again. Nothing was recorded."
        raise ProblemError("invalid", message)
    return int(told)


INSTANT_DIGITS: Final = 17
"""Digits of an instant in microseconds until the year 5138."""


@router.post("/{screen}/withdraw")
async def withdraw(
    request: Request, caller: Annotated[Caller, Depends(who.needs("withdraw-token"))], screen: Named, form: Sent
) -> Response:
    """Withdraw a screen: it shows nothing any more."""
    show = partial(_list, request, caller)
    comes_back(request, form, show)
    answer = await acting.act(request, caller, form, WithdrawToken(screen, form.must("reason")))
    if answer.accepted:
        await anyio.to_thread.run_sync(who.end_shown_by, request, caller, screen)
    return await acting.answered(request, caller, answer, show)
