"""Signing in and out, tokens, screens, PINs and the first run: the routes that see a secret; none shows one twice."""

from __future__ import annotations

import re
from typing import Annotated, Any, Final, Literal

import orjson
from fastapi import APIRouter, Depends, Path
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from pydantic.json_schema import SkipJsonSchema
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError, ReprocessError
from reprocess.ledger.append import Transaction
from reprocess.rules.answer import Answer
from reprocess.rules.guessing import IDLE_S
from reprocess.rules.permissions import ENROL_SCREEN, SCREEN
from reprocess.service import who
from reprocess.service.answers import AnswerOut, Instant, answer_fields, answered, as_us, instant
from reprocess.service.limits import source_of
from reprocess.service.problems import READING, WRITING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import Envelope, Key, Name, Words, place_of
from reprocess.signing_in import first_run, offices, tokens
from reprocess.signing_in.first_run import Administrator
from reprocess.signing_in.programs import Listed, Take
from reprocess.signing_in.sessions import Known
from reprocess.station import Call
from reprocess.terms import SECOND_US

Pin = Annotated[str, StringConstraints(min_length=1, max_length=64)]
"""What was typed; that it can be no PIN at all is not told apart from a wrong one."""
TOKEN_ID: Final = r"^[A-Za-z0-9][A-Za-z0-9._:-]*$"  # noqa: S105 - how an id is written
"""Letters, digits and what no address reads as something else: whatever is issued can be withdrawn by its address."""
TokenId = Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=TOKEN_ID)]
PEOPLE_FIRST: Final = 2
SCOPES_MOST: Final = 50
NO_STORE: Final = {"Cache-Control": "no-store"}
"""A secret is kept by nobody on the way (RFC 9111, section 5.2.2.5)."""

router = APIRouter(tags=["sign-in"], route_class=StrictRoute)


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid")


class SignInIn(_Closed):
    """Is who signs in where."""

    badge: Name
    pin: Pin | SkipJsonSchema[None] = Field(
        default=None,
        description="At an enrolled screen, whoever gave it at that site within twelve hours leaves it out.",
    )
    station: Name
    new_pin: Pin | SkipJsonSchema[None] = Field(default=None, description="The person's own choice from now on.")
    bearer: bool = Field(default=False, description="Whether the answer holds the session's id, for a program.")


class SessionOut(BaseModel):
    """Is who is signed in where, and until when at the latest."""

    person: str
    name: str
    station: str
    site: str
    roles: list[str]
    ends: str
    idle_s: int = Field(description="Seconds after which a session that nobody uses ends.")
    secret: str | None = Field(default=None, description="The session's id, where it was asked for; shown once.")


class TokenIn(Envelope):
    """Is a token to be issued; whoever issues it signs."""

    token: TokenId = Field(description="Its id, by which it is listed and withdrawn; it is no secret.")
    label: Words = Field(description="Whose it is and what for.")
    scopes: Annotated[list[Name], Field(min_length=1, max_length=SCOPES_MOST)]
    sites: Annotated[list[Name], Field(max_length=200)] = Field(default_factory=list, description="All, when empty.")
    until: Instant = Field(description="When it runs out, within a year.")


class TokenOut(BaseModel):
    """Is a token as it is listed."""

    token: str
    label: str
    scopes: list[str]
    sites: list[str]
    issued: str
    issued_by: str | None
    until: str
    used: str | None
    counts: bool
    station: str | None = Field(description="The station whose screen it is; null for a program's.")


class ScreenIn(Envelope):
    """Is a browser to be enrolled as a screen of the station where its supervisor is signed in."""

    screen: TokenId = Field(description="Its id, by which it is listed and withdrawn as a token; it is no secret.")
    label: Words = Field(description="Where exactly it stands.")
    until: Instant = Field(description="When it runs out, within a year.")
    bearer: bool = Field(default=False, description="Whether the answer holds its secret, for a program.")


class ScreenOut(AnswerOut):
    """Is the answer to enrolling a screen."""

    secret: str | None = Field(default=None, description="The screen's secret, where it was asked for; shown once.")


class WithdrawIn(Envelope):
    """Says why a token counts no more."""

    reason: Words = "not said"


class UnlockIn(Envelope):
    """Says why a locked person may sign in again."""

    reason: Words


class PinIn(Envelope):
    """Is a PIN that an office chooses for a person, who must choose an own one next."""

    first_pin: Pin


class AdministratorIn(_Closed):
    """Is one of the first two administrators."""

    person: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$", max_length=32)]
    name: Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
    badge: Name
    pin: Pin


class FirstRunIn(_Closed):
    """Is the console's code and the first two administrators."""

    code: Name
    administrators: Annotated[list[AdministratorIn], Field(min_length=PEOPLE_FIRST, max_length=PEOPLE_FIRST)]


@router.post(
    "/sessions",
    operation_id="sign-in",
    summary="Sign in at a station with badge and PIN",
    response_model=SessionOut,
    status_code=201,
    responses=responses(*READING, "unknown-subject", "wrong-use", "wrong-origin"),
)
def sign_in(request: Request, given: SignInIn) -> Response:
    """Begin a session under a new id; whoever was signed in at the station no longer is.

    The id comes as a cookie, or in the body where `bearer` asks for it. A wrong badge and a wrong PIN are answered
    alike. A PIN that somebody else chose lets in only together with `new_pin`. A request that brings the secret of the
    station's screen needs no PIN of somebody who gave it at that site within the shift.
    """
    parts = served(request)
    _must_be_no_other_site(request)
    secret, known = _let_in(request, given)
    told = _session(known) | ({"secret": secret} if given.bearer else {})
    answer = Response(orjson.dumps(told), 201, NO_STORE, "application/json")
    if not given.bearer:
        who.end_before(request)
        answer.set_cookie(who.cookie_name(parts), secret, **cookie_fields(parts))
    return answer


@router.get(
    "/sessions/current",
    operation_id="read-session",
    summary="Show who is signed in",
    response_model=SessionOut,
    response_model_exclude_none=True,
    responses=responses(*READING),
)
def current(request: Request) -> Response:
    """Show the session that this request belongs to; asking keeps it from ending for want of use."""
    secret = who.secret_of(request)
    if secret is None:
        message = "Nobody is signed in. Sign in with badge and PIN."
        raise NotSignedInError(message)
    known = who.door_of(served(request)).whose(secret)
    return Response(orjson.dumps(_session(known)), 200, NO_STORE, "application/json")


@router.delete(
    "/sessions/current",
    operation_id="sign-out",
    summary="Sign out",
    status_code=204,
    responses=responses(*READING, "wrong-origin"),
)
def sign_out(request: Request) -> Response:
    """End the session that this request belongs to; it does no harm where it ended before."""
    parts = served(request)
    secret = who.secret_of(request)
    if secret is not None:
        who.door_of(parts).sign_out(secret)
    answer = Response(status_code=204)
    answer.delete_cookie(who.cookie_name(parts), **cookie_fields(parts))
    return answer


@router.post(
    "/tokens",
    operation_id="issue-token",
    summary="Issue a token to a program",
    response_class=Response,
    responses={
        200: {"description": "On record; `secret` is shown this once.", "model": AnswerOut},
        **responses(*WRITING),
    },
)
def issue(
    request: Request, key: Key, caller: Annotated[Caller, Depends(who.needs("issue-token"))], given: TokenIn
) -> Response:
    """Issue a token; its text stands in this answer alone, and a repetition of the request does not show it again."""
    until_us, scopes, sites = as_us(given.until), tuple(given.scopes), tuple(given.sites)
    asked = asking.IssueToken(given.token, given.label, scopes, sites, until_us)
    call = _call(request, caller, given, key, asked)
    parts = served(request)
    answer, secret = who.programs_of(parts).issue(given.token, take_of(parts, call))
    zone = parts.department.zone_of_station(call.station)
    if secret is None:
        return answered(request, answer, zone)
    told = answer_fields(answer, zone) | {"secret": secret}
    return Response(orjson.dumps(told), 200, NO_STORE, "application/json")


@router.post(
    "/screens",
    operation_id="enrol-screen",
    summary="Enrol a browser as a screen",
    response_class=Response,
    responses={200: {"description": "On record.", "model": ScreenOut}, **responses(*WRITING)},
)
def enrol(
    request: Request, key: Key, caller: Annotated[Caller, Depends(who.needs(ENROL_SCREEN))], given: ScreenIn
) -> Response:
    """Let a browser show its station's work with nobody signed in, and take badges alone within the shift.

    It belongs to the station of the session. Its secret comes as a cookie, or in the body where `bearer` asks for it;
    a repetition of the request does not bring it again.
    """
    until_us, parts = as_us(given.until), served(request)
    answer, secret = enrol_screen(request, caller, key, (given.screen, given.label, until_us), _brought(given))
    zone = parts.department.zone_of_station(caller.station or "")
    if secret is None:
        return answered(request, answer, zone)
    told = answer_fields(answer, zone) | ({"secret": secret} if given.bearer else {})
    made = Response(orjson.dumps(told), 200, NO_STORE, "application/json")
    if not given.bearer:
        keep_screen(made, parts, secret, until_us)
    return made


def enrol_screen(
    request: Request, caller: Caller, key: str, wanted: tuple[str, str, int], signs: Signs
) -> tuple[Answer, str | None]:
    """Returns (the answer to enrolling a screen at the caller's station, its secret where it was enrolled just now).

    Args:
        request: the HTTP request.
        caller: the supervisor who is signed in at that station.
        key: the request's own key.
        wanted: the screen's id, where exactly it stands, and when it runs out.
        signs: brings the PIN.

    Raises:
        ProblemError: the id is none that an address can name.
        NotSignedInError: the PIN is missing or wrong.
        NotAllowedError: the caller may not do this.
    """
    screen, label, until_us = wanted
    if not re.fullmatch(TOKEN_ID, screen):
        message = "A screen's id has letters, digits, hyphens and dots. Nothing was recorded."
        raise ProblemError("invalid", message)
    parts, identity = served(request), who.signs(request, caller, ENROL_SCREEN, signs)
    named = {"station": signs.station, "badge": signs.badge, "second_badge": signs.second_badge}
    station, badge, second = place_of(caller, named)
    asked = asking.IssueToken(screen, label, (SCREEN,), (), until_us, station)
    call = Call(asked, station, badge, second, key, identity=identity)
    return who.programs_of(parts).issue(screen, take_of(parts, call), tokens.SCREEN)


def keep_screen(answer: Response, parts: Served, secret: str, until_us: int) -> None:
    """Gives a browser the secret of the screen that it is from now on, until it runs out."""
    left_s = (until_us - parts.department.clock.now().wall_us) // SECOND_US
    answer.set_cookie(who.screen_cookie_name(parts), secret, max_age=max(0, left_s), **cookie_fields(parts))


@router.get(
    "/tokens",
    operation_id="list-tokens",
    summary="List the tokens",
    response_model=list[TokenOut],
    responses=responses(*READING),
)
def listed(request: Request, caller: Annotated[Caller, Depends(who.needs("read-tokens"))]) -> list[dict[str, Any]]:
    """List every token ever issued, by id, and when it was last used; never the token itself."""
    del caller
    parts = served(request)
    now_us = parts.department.clock.now().wall_us
    return [_token(one, now_us) for one in who.programs_of(parts).listed()]


@router.delete(
    "/tokens/{token}",
    operation_id="withdraw-token",
    summary="Withdraw a token",
    response_class=Response,
    responses={200: {"description": "On record.", "model": AnswerOut}, **responses(*WRITING)},
)
def withdraw(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("withdraw-token"))],
    token: Annotated[Name, Path()],
    given: WithdrawIn | SkipJsonSchema[None] = None,
) -> Response:
    """Withdraw a token; the next request that brings it is refused."""
    body = given or WithdrawIn()
    call = _call(request, caller, body, key, asking.WithdrawToken(token, body.reason))
    parts = served(request)
    answer = parts.department.desk.take(call)
    if answer.accepted:
        who.end_shown_by(request, caller, token)
    return answered(request, answer, parts.department.zone_of_station(call.station))


@router.put(
    "/people/{person}/pin",
    operation_id="set-pin",
    summary="Choose a first PIN for a person",
    response_class=Response,
    responses={200: {"description": "On record.", "model": AnswerOut}, **responses(*WRITING, "wrong-use")},
)
def set_pin(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("set-pin"))],
    person: Annotated[Name, Path()],
    given: PinIn,
) -> Response:
    """Choose a PIN for somebody who has none or forgot it; it opens nothing but the choice of an own one."""
    call = _call(request, caller, given, key, asking.SetPin(person))
    parts = served(request)
    opened, pins = parts.department, who.door_of(parts).pins
    answer = offices.set_first(opened.ledger, opened.clock, pins, person, given.first_pin, take_of(parts, call))
    return answered(request, answer, opened.zone_of_station(call.station))


@router.post(
    "/people/{person}/unlock",
    operation_id="unlock-sign-in",
    summary="Let a locked person sign in again",
    response_class=Response,
    responses={200: {"description": "On record.", "model": AnswerOut}, **responses(*WRITING)},
)
def unlock(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("unlock-sign-in"))],
    person: Annotated[Name, Path()],
    given: UnlockIn,
) -> Response:
    """Let somebody try again whose tries failed too often; a supervisor signs it, and never for themselves."""
    call = _call(request, caller, given, key, asking.UnlockSignIn(person, given.reason))
    parts = served(request)
    answer = parts.department.desk.take(call)
    return answered(request, answer, parts.department.zone_of_station(call.station))


@router.post(
    "/first-run",
    operation_id="begin",
    summary="Let in the first two administrators",
    status_code=204,
    responses=responses("not-signed-in", "invalid", "wrong-use", "too-many-tries", "ledger-busy", "malformed"),
)
def begin(request: Request, given: FirstRunIn) -> Response:
    """Let in the first two administrators, with the code that the server's console shows; it counts once."""
    parts = served(request)
    who.sources_of(parts).tries(source_of(request.scope))
    first = tuple(Administrator(one.person, one.name, one.badge, one.pin) for one in given.administrators)
    opened = parts.department
    first_run.begin(opened.ledger, opened.clock, who.door_of(parts).pins, given.code, first)
    return Response(status_code=204)


def _let_in(request: Request, given: SignInIn) -> tuple[str, Known]:
    """Returns (the new session's id, who it is) after badge and PIN, or at a screen after the badge alone.

    Raises:
        ProblemError: a new PIN comes without the one before.
    """
    if given.pin is None and given.new_pin is None:
        return who.by_badge(request, given.badge, given.station)
    if given.pin is None:
        message = "Give the PIN before beside the new one; nothing was recorded."
        raise ProblemError("invalid", message, errors=[{"pointer": "/body/pin", "detail": "missing"}])
    parts = served(request)
    screen = who.screen_at(request, given.station)
    who.must_not_hurry(request)
    return who.door_of(parts).sign_in(given.badge, given.pin, given.station, new_pin=given.new_pin, screen=screen)


def _session(known: Known) -> dict[str, Any]:
    person, session = known.person, known.session
    return {
        "person": person.person,
        "name": person.name,
        "station": session.station,
        "site": known.site.site,
        "roles": list(person.roles),
        "ends": instant(session.ends_us),
        "idle_s": IDLE_S,
    }


def cookie_fields(parts: Served) -> dict[str, Any]:
    """Returns what every cookie with a secret has: it is sent to this server alone, and no script sees it."""
    same: Literal["strict"] = "strict"
    return {"path": "/", "secure": parts.secret_links, "httponly": True, "samesite": same}


def _must_be_no_other_site(request: Request) -> None:
    """Raises where a page of another site would sign somebody in (login cross-site request forgery).

    Raises:
        ProblemError: a browser says so.
    """
    if request.headers.get("sec-fetch-site") in {"cross-site", "same-site"}:
        message = "The request does not come from this server's own pages; nothing was recorded."
        raise ProblemError("wrong-origin", message)


def _call(request: Request, caller: Caller, given: Envelope, key: str, asked: asking.AccessRequest) -> Call:
    """Returns the call of a request about access, its PINs compared."""
    identity = who.signs(request, caller, asked.asked, _brought(given))
    return Call(asked, *place_of(caller, given.model_dump()), key, shown=given.shown, identity=identity)


def _brought(given: Envelope) -> Signs:
    return Signs(given.pin, given.second_badge, given.second_pin, given.badge, given.station)


def take_of(parts: Served, call: Call) -> Take:
    """Returns what asks for a call within a transaction that keeps a secret beside it; an error ends both."""

    def take(work: Transaction) -> Answer:
        outcome = parts.department.desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome

    return take


def _token(one: Listed, now_us: int) -> dict[str, Any]:
    token = one.token
    return {
        "token": token.token,
        "label": token.label,
        "scopes": list(token.scopes),
        "sites": list(token.sites),
        "issued": instant(token.issued_us),
        "issued_by": token.issued_by,
        "until": instant(token.until_us),
        "used": instant(one.used_us) if one.used_us is not None else None,
        "counts": token.counts(now_us),
        "station": token.station,
    }
