"""Reminders: what is due and what comes, what rang and who saw it; and the acknowledgement."""

from __future__ import annotations

from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import local
from reprocess.reminders.listing import Listed, coming, health_of
from reprocess.reminders.rounds import see
from reprocess.reminders.wording import sentence
from reprocess.service import who
from reprocess.service.answers import instant
from reprocess.service.paging import LIMIT, LIMIT_MAX, PAGE_HEADERS
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, department_of, in_sight
from reprocess.service.served import served
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import NOTHING, Name, Words
from reprocess.terms import DAY_S

router = APIRouter(route_class=StrictRoute, tags=["reminders"])
Reader = Annotated[Caller, Depends(who.needs("read-due"))]
SEEING: Final = "note-item"
"""Whoever may note something about an item may say that they heard its reminder."""
WITHIN_S_MAX: Final = 366 * DAY_S
Key = Annotated[str, StringConstraints(min_length=3, max_length=300, pattern=r"^[!-~]+$")]


class ReminderOut(BaseModel):
    """Is one thing that is due or comes: the reminder that speaks of it now."""

    key: str = Field(examples=["R05/item:BLW-0041/17/most"])
    rule: str
    subject: str
    site: str | None
    severity: int = Field(description="0 is the gravest.")
    rings: InstantOut
    due: InstantOut
    due_local: str = Field(description="The same in the time zone of its site.")
    overdue: bool
    sentence: str
    rang: InstantOut | None
    seen: InstantOut | None
    escalated: InstantOut | None


class BellOut(BaseModel):
    """Is whether a bell is at work."""

    well: bool
    last_sweep: InstantOut | None
    unrung: int
    undelivered: int


class RemindersOut(BaseModel):
    """Is one page of what is due, the overdue first, the gravest and then the oldest of it."""

    bell: BellOut
    total: int
    reminders: list[ReminderOut]
    next: int | None = Field(default=None, description="`after` of the next page; the list is made anew each time.")


class SeenIn(BaseModel):
    """Acknowledges what rang: the reminders of one cause by a key, or all of a subject."""

    model_config = ConfigDict(extra="forbid")

    key: Key | NOTHING = Field(default=None, examples=["R05/item:BLW-0041/17/most"])
    subject: Key | NOTHING = Field(default=None, examples=["item:BLW-0041"])
    badge: Name | NOTHING = Field(default=None, description="Whose; only a token may have to say it.")
    pin: Words | NOTHING = None

    @model_validator(mode="after")
    def _one_of_both(self) -> SeenIn:
        if (self.key is None) == (self.subject is None):
            message = "name either a key or a subject"
            raise ValueError(message)
        if "/" not in (self.key or "/") or "/" in (self.subject or ""):
            message = "a key has slashes, a subject has none"
            raise ValueError(message)
        return self


class SeenOut(BaseModel):
    """Is what was acknowledged just now; what was before is left out."""

    seen: list[str]


@router.get(
    "/reminders",
    operation_id="list-reminders",
    summary="What is overdue and what comes",
    response_model=RemindersOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def reminders(
    request: Request,
    response: Response,
    caller: Reader,
    within_s: Annotated[int, Query(ge=0, le=WITHIN_S_MAX, description="How far ahead, in seconds.")] = DAY_S,
    site: Asked = None,
    subject: Annotated[str | None, Query(max_length=300, pattern=r"^[!-~]+$")] = None,
    limit: Annotated[int, Query(ge=1, le=LIMIT_MAX, description="How many at most.")] = LIMIT,
    after: Annotated[int, Query(ge=0, le=10**9, description="The `next` of the page before.")] = 0,
) -> dict[str, Any]:
    """Lists one line a cause; of one site or subject only where asked."""
    department = department_of(request)
    now_us = department.clock.now().wall_us
    bell = health_of(department.ledger, now_us)
    found = [
        one
        for one in coming(department.ledger, now_us, within_s)
        if in_sight(caller, _site(one)) and site in (None, _site(one)) and subject in (None, one.row.due.subject)
    ]
    upto = after + limit
    if upto < len(found):
        url = request.url.include_query_params(after=upto)
        response.headers["Link"] = f'<{url.path}?{url.query}>; rel="next"'
    return {
        "bell": {
            "well": bell.well,
            "last_sweep": _at(bell.swept_us),
            "unrung": bell.unrung,
            "undelivered": bell.posts,
        },
        "total": len(found),
        "reminders": [_told(one) for one in found[after:upto]],
        "next": upto if upto < len(found) else None,
    }


def _site(one: Listed) -> str:
    return str(one.row.due.words.get("site") or "")


def _told(one: Listed) -> dict[str, Any]:
    row = one.row
    return {
        "key": row.due.key,
        "rule": row.due.rule,
        "subject": row.due.subject,
        "site": _site(one) or None,
        "severity": row.due.severity,
        "rings": instant(row.due.due_us),
        "due": instant(one.deadline_us),
        "due_local": local(one.zone, one.deadline_us).isoformat(timespec="seconds"),
        "overdue": one.overdue,
        "sentence": sentence(row.due, lambda at_us: local(one.zone, at_us).strftime("%Y-%m-%d %H:%M")),
        "rang": _at(row.rang_us),
        "seen": _at(row.seen_us),
        "escalated": _at(row.escalated_us),
    }


def _at(at_us: int | None) -> str | None:
    return None if at_us is None else instant(at_us)


@router.post(
    "/reminders/seen",
    operation_id="see-reminders",
    summary="Acknowledge what rang",
    response_model=SeenOut,
    responses=responses(*READING, "unknown-subject", "wrong-origin", "too-large", "media-type", "ledger-full"),
)
async def seen(request: Request, caller: Annotated[Caller, Depends(who.needs(SEEING))], body: SeenIn) -> SeenOut:
    """Records it once for each reminder, however often it is sent, so that it needs no Idempotency-Key."""
    badge = body.badge or caller.badge
    if badge is None:
        message = "Somebody must acknowledge it: name the badge. Nothing was recorded."
        raise ProblemError("invalid", message, errors=[{"pointer": "/body/badge", "detail": "missing"}])
    if caller.kind == "person" and badge != caller.badge:
        message = "This session acknowledges under its own badge; nothing was recorded."
        raise ProblemError("not-allowed", message)
    signs = Signs(body.pin, badge=body.badge)
    identity = await anyio.to_thread.run_sync(who.signs, request, caller, SEEING, signs)
    department = served(request).department

    def record() -> list[str]:
        asked = body.key or body.subject or ""
        return see(
            department.ledger,
            department.clock,
            asked,
            badge,
            identity=identity,
            may=lambda one: in_sight(caller, one),
        )

    return SeenOut(seen=await anyio.to_thread.run_sync(record))
