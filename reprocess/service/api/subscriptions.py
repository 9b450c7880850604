"""Subscriptions: who outside is handed entries; made, changed, ended, replayed, and how far each of them is."""

from __future__ import annotations

from typing import Annotated, Any, Final

import anyio.to_thread
import orjson
from fastapi import APIRouter, Depends, Path
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine import request as asking
from reprocess.engine.request.subscriptions import SubscriptionRequest
from reprocess.exchange.events import rfc3339
from reprocess.ledger.append import looking
from reprocess.ledger.deliveries import NEVER_US, Progress
from reprocess.record.subscriptions import Subscription
from reprocess.rules.answer import Verdict
from reprocess.service import who
from reprocess.service.answers import AnswerOut, answer_fields, answered
from reprocess.service.asking import zone_of
from reprocess.service.outgoing import must_be_listed, subscribe
from reprocess.service.problems import READING, WRITING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import SIGNS, Envelope, Key, Name, Words
from reprocess.station import Call
from reprocess.terms import StreamKind

MANY: Final = 200
Names = Annotated[list[Name], Field(max_length=MANY)]

router = APIRouter(route_class=StrictRoute, tags=["subscriptions"])


class SubscriptionIn(Envelope):
    """Is what a subscription is from now on, all of it."""

    title: Words
    url: Annotated[str, Field(min_length=1, max_length=2_000, pattern=r"^https?://[!-~]+$")]
    kinds: Names = Field(default_factory=list, description="The kinds of entry wanted; empty means all.")
    sites: Names = Field(default_factory=list, description="The sites wanted; empty means all.")
    scopes: Names = Field(default_factory=list, description="What may be seen beyond the open kinds.")


class NewSubscriptionIn(SubscriptionIn):
    """Is a subscription that is to be made."""

    subscription: Name


class EndIn(Envelope):
    """Is why a subscription ends."""

    because: Words


class ReplayIn(Envelope):
    """Is where handing over begins again: after this entry."""

    after: Annotated[int, Field(ge=0, le=2**53 - 1)]


class SubscribedOut(AnswerOut):
    """Is the answer, with the new secret: it is shown this once and never again."""

    secret: str | None = Field(default=None, examples=["whsec_..."])


class SubscriptionOut(BaseModel):
    """Is a subscription and how far it is."""

    subscription: str
    title: str
    url: str
    kinds: list[str]
    sites: list[str]
    scopes: list[str]
    state: str = Field(description="`active`, `given-up` or `ended`.")
    because: str | None = Field(default=None, description="Why it ended, or what kept an entry back.")
    after: int | None = Field(default=None, description="The last entry that was handed over or passed over.")
    attempts: int = Field(default=0, description="How often the entry after it was tried.")
    next_try_at: str | None = None
    answer: str | None = Field(default=None, description="What its receiver last said, in one word of ours.")
    answered_at: str | None = None


@router.get(
    "/subscriptions",
    operation_id="list-subscriptions",
    response_model=list[SubscriptionOut],
    summary="List the subscriptions and how far each is",
    responses=responses(*READING),
)
async def subscriptions(request: Request, _: Annotated[Caller, Depends(who.needs("read-subscriptions"))]) -> Response:
    """List every subscription, by id, the ended ones too."""
    body = await anyio.to_thread.run_sync(_listed, served(request))
    return Response(orjson.dumps(body), media_type="application/json")


_WRITES: Final[dict[int | str, dict[str, Any]]] = {
    200: {"description": "On record.", "model": SubscribedOut},
    **responses(*WRITING),
}


@router.post(
    "/subscriptions",
    operation_id="make-subscription",
    summary="Make a subscription",
    response_class=Response,
    responses=_WRITES,
)
async def make(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("make-subscription"))],
    body: NewSubscriptionIn,
) -> Response:
    """Hand entries to an address outside from now on; the answer holds the secret that signs them, this once."""
    must_be_listed(body.url, served(request).settings.subscriptions)
    given = (body.title, body.url, tuple(body.kinds), tuple(body.sites), tuple(body.scopes))
    return await _asked(request, key, caller, body, asking.MakeSubscription(body.subscription, *given))


@router.post(
    "/subscriptions/{subscription}/change",
    operation_id="change-subscription",
    summary="Change a subscription",
    response_class=Response,
    responses=_WRITES,
)
async def change(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("change-subscription"))],
    subscription: Annotated[Name, Path()],
    body: SubscriptionIn,
) -> Response:
    """Say what a subscription is from now on; one that was given up goes on where it stopped."""
    must_be_listed(body.url, served(request).settings.subscriptions)
    given = (body.title, body.url, tuple(body.kinds), tuple(body.sites), tuple(body.scopes))
    return await _asked(request, key, caller, body, asking.ChangeSubscription(subscription, *given))


@router.post(
    "/subscriptions/{subscription}/end",
    operation_id="end-subscription",
    summary="End a subscription",
    response_class=Response,
    responses=_WRITES,
)
async def end(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("end-subscription"))],
    subscription: Annotated[Name, Path()],
    body: EndIn,
) -> Response:
    """Hand nothing more over, and forget what signed."""
    return await _asked(request, key, caller, body, asking.EndSubscription(subscription, body.because))


@router.post(
    "/subscriptions/{subscription}/rekey",
    operation_id="rekey-subscription",
    summary="Exchange the secret",
    response_class=Response,
    responses=_WRITES,
)
async def rekey(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("rekey-subscription"))],
    subscription: Annotated[Name, Path()],
    body: Envelope,
) -> Response:
    """Let a new secret sign beside the one before, which goes with the next exchange."""
    return await _asked(request, key, caller, body, asking.RekeySubscription(subscription))


@router.post(
    "/subscriptions/{subscription}/replay",
    operation_id="replay-subscription",
    summary="Hand entries over again",
    response_class=Response,
    responses=_WRITES,
)
async def replay(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("replay-subscription"))],
    subscription: Annotated[Name, Path()],
    body: ReplayIn,
) -> Response:
    """Hand over everything after an entry, again where it was taken before, under the same ids."""
    return await _asked(request, key, caller, body, asking.ReplaySubscription(subscription, body.after))


async def _asked(request: Request, key: str, caller: Caller, body: Envelope, asked: SubscriptionRequest) -> Response:
    parts, given = served(request), {name: getattr(body, name) for name in SIGNS}
    signs = Signs(given["pin"], given["second_badge"], given["second_pin"], given["badge"], given["station"])
    identity = await anyio.to_thread.run_sync(who.signs, request, caller, asked.asked, signs)
    station, badge = caller.station or given["station"], caller.badge or given["badge"]
    if station is None:
        message = "Say at which station; nothing was recorded."
        raise ProblemError("invalid", message, errors=[{"pointer": "/body/station", "detail": "missing"}])
    call = Call(asked, station, badge, given["second_badge"], key, shown=given["shown"], identity=identity)
    answer, secret = await anyio.to_thread.run_sync(subscribe, parts.department, call)
    zone = await zone_of(parts, station)
    if secret is None or answer.verdict is not Verdict.ACCEPTED:
        return answered(request, answer, zone)
    told = orjson.dumps(answer_fields(answer, zone) | {"secret": secret})
    return Response(told, media_type="application/json", headers={"Cache-Control": "no-store"})


def _listed(parts: Served) -> list[dict[str, Any]]:
    with looking(parts.department.ledger) as read:
        progress = {one.subscription: one for one in read.deliveries.all()}
        states = [one for one in read.states_of(StreamKind.SUBSCRIPTION) if isinstance(one, Subscription)]
    return [_line(one, progress.get(one.subscription)) for one in states if one.since]


def _line(one: Subscription, far: Progress | None) -> dict[str, Any]:
    state = "ended" if one.ended is not None else "given-up" if one.given_up is not None else "active"
    line: dict[str, Any] = {
        "subscription": one.subscription,
        "title": one.title,
        "url": one.url,
        "kinds": one.kinds,
        "sites": one.sites,
        "scopes": one.scopes,
        "state": state,
        "because": one.ended or one.because,
    }
    if far is None:
        return line
    next_at = rfc3339(far.next_us) if 0 < far.next_us < NEVER_US else None
    answered_at = rfc3339(far.answered_us) if far.answered_us is not None else None
    return line | {
        "after": far.after,
        "attempts": far.attempts,
        "next_try_at": next_at,
        "answer": far.answer,
        "answered_at": answered_at,
    }
