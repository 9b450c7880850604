"""Signing in and out on a page, choosing a language, and the first page with the doors to all others."""

from __future__ import annotations

from typing import Annotated, Any

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import NotAllowedError, NotSignedInError, ReprocessError
from reprocess.languages import LANGUAGES
from reprocess.ledger.append import looking
from reprocess.record.places import Station
from reprocess.service import who
from reprocess.service.api.sessions import cookie_fields
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.forms import Form, PageRoute, form_of, must_wait, see
from reprocess.service.pages.language import COOKIE
from reprocess.service.problems import KINDS, kind_of
from reprocess.service.served import Served, served
from reprocess.signing_in.sessions import MUST_CHANGE
from reprocess.terms import StreamKind

router = APIRouter(route_class=PageRoute, include_in_schema=False)
Sent = Annotated[Form, Depends(form_of)]


@router.get("/")
async def first(request: Request) -> Response:
    """Show the doors: bench, board, hatch and desk."""
    caller = await perhaps(request)
    stations = await anyio.to_thread.run_sync(_stations, served(request))
    return rendering.page(request, "first.html", caller=caller, stations=stations)


async def perhaps(request: Request) -> who.Caller | None:
    """Returns who is signed in, or None."""
    try:
        return await who.caller(request)
    except ReprocessError:
        return None


def _stations(parts: Served) -> list[Station]:
    """Returns every station, by id."""
    with looking(parts.department.ledger) as read:
        return [one for one in read.states_of(StreamKind.STATION) if isinstance(one, Station)]


@router.get("/sign-in")
async def ask_who(request: Request, to: str = "/", at: str = "") -> Response:
    """Show the form of badge and PIN."""
    return await _asked(request, {"to": rendering.own_address(to), "station": at})


async def _asked(request: Request, given: dict[str, Any], *, status: int = 200, **more: Any) -> Response:
    stations = await anyio.to_thread.run_sync(_stations, served(request))
    kept = {"badge": ""} | given | {"station": given.get("station") or request.cookies.get("station", "")}
    told = {"stations": stations, "given": kept, "fault": None, "fault_key": None, "new_pin": False} | more
    return rendering.page(request, "sign-in.html", status=status, **told)


@router.post("/sign-in")
async def sign_in(request: Request, form: Sent) -> Response:
    """Let somebody in with badge and PIN, and go on to the page that was asked for."""
    parts = served(request)
    to = rendering.own_address(form.get("to") or "/")
    given = {"badge": form.get("badge") or "", "station": form.must("station"), "to": to}
    acting.must_be_plain(given)
    try:
        who.must_not_hurry(request)
        secret, known = await anyio.to_thread.run_sync(
            lambda: who.door_of(parts).sign_in(
                given["badge"],
                form.get("pin") or "",
                given["station"],
                new_pin=form.get("new_pin"),
                screen=who.screen_at(request, given["station"]),
            )
        )
    except ReprocessError as fault:
        kind = kind_of(fault)
        must_change = isinstance(fault, NotAllowedError) and fault.sentence == MUST_CHANGE
        told = "sign-in.not-believed" if isinstance(fault, NotSignedInError) else None
        new_pin = must_change or form.get("new_pin") is not None
        page = await _asked(
            request, given, status=KINDS[kind].status, fault=fault.sentence, fault_key=told, new_pin=new_pin
        )
        return must_wait(page, fault)
    await anyio.to_thread.run_sync(who.end_before, request)
    answer = see(to)
    answer.set_cookie(who.cookie_name(parts), secret, **cookie_fields(parts))
    answer.set_cookie("station", known.session.station, **cookie_fields(parts))
    return answer


@router.post("/sign-out")
async def sign_out(request: Request, form: Sent) -> Response:
    """End the session of this browser."""
    parts = served(request)
    secret = who.secret_of(request)
    if secret is not None:
        await anyio.to_thread.run_sync(who.door_of(parts).sign_out, secret)
    answer = see(rendering.own_address(form.get("to") or "/"))
    answer.delete_cookie(who.cookie_name(parts), **cookie_fields(parts))
    return answer


@router.post("/language")
async def choose_language(request: Request, form: Sent) -> Response:
    """Keep the language that somebody chose at this browser."""
    answer = see(rendering.own_address(form.get("to") or "/"))
    chosen = form.get("language")
    if chosen is not None and chosen in LANGUAGES:
        answer.set_cookie(COOKIE, chosen, max_age=365 * 86_400, **cookie_fields(served(request)))
    return answer
