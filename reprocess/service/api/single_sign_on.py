"""Single sign-on at supervisors' desks: there and back; it begins the same session that badge and PIN do."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Query
from pydantic import StringConstraints
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from reprocess.errors import NotSignedInError, UnknownSubjectError
from reprocess.service import who
from reprocess.service.limits import source_of
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.writing import Name
from reprocess.settings import secret_in
from reprocess.signing_in.single_sign_on import FAILED, WAITS_S, Provider, SignOn

Brought = Annotated[str, StringConstraints(min_length=1, max_length=4096), Query()]
"""What the browser brings back from the sign-on."""
WAITING: Final = "__Host-sign-on"
WAITING_PLAIN: Final = "sign-on"
GO_ON: Final = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Signed in</title>'
    '<meta http-equiv="refresh" content="0; url=/"></head><body><p><a href="/">You are signed in. Go on.</a></p></body>'
    "</html>"
)
"""The page after a sign-on: a cookie that no other site's navigation carries is sent from our own page only."""
NO_STORE: Final = {"Cache-Control": "no-store"}

router = APIRouter(tags=["sign-in"], route_class=StrictRoute)


@router.get(
    "/single-sign-on",
    operation_id="begin-single-sign-on",
    summary="Sign in with the organisation's own sign-on",
    status_code=303,
    response_class=RedirectResponse,
    responses=responses("not-signed-in", "wrong-use", "unknown-subject", "too-many-tries", "invalid"),
)
def go(request: Request, station: Annotated[Name, Query()]) -> Response:
    """Send the browser to the sign-on; it comes back within ten minutes, or begins anew."""
    parts = served(request)
    who.sources_of(parts).tries(source_of(request.scope))
    begun = _sign_on(parts).begin(station, parts.department.clock.now().wall_us)
    answer = RedirectResponse(begun.address, 303, NO_STORE)
    secure = parts.secret_links
    answer.set_cookie(_name(parts), begun.sealed, WAITS_S, path="/", secure=secure, httponly=True, samesite="lax")
    return answer


@router.get(
    "/single-sign-on/back",
    operation_id="end-single-sign-on",
    summary="Come back from the organisation's own sign-on",
    response_class=HTMLResponse,
    responses=responses(*READING, "unknown-subject"),
)
def back(request: Request, state: Brought, code: Brought) -> Response:
    """Begin the session of whoever signed on, under a new id."""
    parts = served(request)
    who.sources_of(parts).tries(source_of(request.scope))
    sealed = request.cookies.get(_name(parts))
    if sealed is None:
        raise NotSignedInError(FAILED)
    person, station = _sign_on(parts).finish(state, code, sealed, parts.department.clock.now().wall_us)
    secret, _ = who.door_of(parts).admit(person, station)
    answer = HTMLResponse(GO_ON, headers=NO_STORE)
    secure = parts.secret_links
    answer.set_cookie(who.cookie_name(parts), secret, path="/", secure=secure, httponly=True, samesite="strict")
    answer.delete_cookie(_name(parts), path="/", secure=secure, httponly=True, samesite="lax")
    return answer


def _name(parts: Served) -> str:
    return WAITING if parts.secret_links else WAITING_PLAIN


def _sign_on(parts: Served) -> SignOn:
    """Returns the sign-on that the settings name; its secret is read anew, so that an exchange needs no restart.

    Raises:
        UnknownSubjectError: they name none.
    """
    found = parts.settings.sign_on
    if found is None:
        message = "There is no single sign-on here. Sign in with badge and PIN."
        raise UnknownSubjectError(message)
    provider = Provider(
        issuer=found.issuer,
        client_id=found.client_id,
        client_secret=secret_in(found.secret_file),
        back=found.back,
        claim=found.claim,
        stations=frozenset(found.stations),
        people=tuple(found.people.items()),
    )
    return SignOn(parts.department.ledger.key, provider, parts.parts.get("sign-on transport"))
