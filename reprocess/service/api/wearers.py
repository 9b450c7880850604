"""Wearers, by pseudonym: registered under a name that is kept beside the record, and shown without it (D13, I21).

A name leaves this server in two answers only: here for a purpose out of a short list, and as the list of an exposure
case. Every reading is on record, one entry for each name.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import anyio.to_thread
from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from starlette.requests import Request
from starlette.responses import Response

from reprocess.department import Department, pseudonym_from
from reprocess.engine.request import ReadNames, RegisterWearer, TraceWearer
from reprocess.engine.wearers import NAMES_MAX
from reprocess.ledger.names import Name as PersonName
from reprocess.record import words
from reprocess.record.wearers import Wearer
from reprocess.service import who
from reprocess.service.answers import AnswerOut, answered, instant
from reprocess.service.api.cases import private
from reprocess.service.api.lookbacks import GuardedOut, Span, found_by, shown_after, span
from reprocess.service.asking import ask, zone_of
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, WRITING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, in_sight, reading, seen
from reprocess.service.served import served
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.service.writing import NOTHING, Envelope, Key, Name, call_by_hand
from reprocess.terms import StreamKind, subject_of

router = APIRouter(route_class=StrictRoute, tags=["wearers"])
Reader = Annotated[Caller, Depends(who.needs("read-wearers"))]
Private = Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]*$")]


class NameIn(BaseModel):
    """Is who a wearer is."""

    model_config = ConfigDict(extra="forbid", hide_input_in_errors=True)

    name: Private = Field(repr=False, examples=["Ilse Varga"])
    badge: Name | NOTHING = Field(default=None, repr=False, description="The badge that is scanned at issue.")
    contact: Private | NOTHING = Field(default=None, repr=False, description="How the wearer is reached.")


class RegisterIn(Envelope):
    """Registers a wearer under a new pseudonym, or one who comes back under the old one."""

    unit: Private = Field(examples=["ED"], description="Where the wearer works.")
    who: NameIn = Field(repr=False, description="Kept beside the record; it stands in no entry.")
    wearer: Name | NOTHING = Field(default=None, description="The pseudonym of a wearer who comes back.")


class ReadNamesIn(Envelope):
    """Asks who some wearers are."""

    wearers: Annotated[list[Name], Field(min_length=1, max_length=NAMES_MAX)]
    why: words.NameWhy
    case: Name | NOTHING = Field(default=None, description="The exposure case that it is about.")


class NameOut(BaseModel):
    """Is who one wearer is."""

    wearer: str
    name: str | None = Field(description="Null where no name is kept.")
    badge: str | None
    contact: str | None


class NamesOut(BaseModel):
    """Is what a reading of names answers."""

    answer: AnswerOut
    names: list[NameOut] = Field(description="Empty for a repetition: ask again with a new key.")


class FitOut(BaseModel):
    """Is one model that fits, and until when its test counts."""

    model: str
    until: InstantOut | None = Field(description="Null where it has no end.")


class WearerOut(BaseModel):
    """Is what is known of a wearer beside the name."""

    wearer: str
    unit: str
    site: str
    active: bool
    trained_until: InstantOut | None = Field(description="Null where no training is on record.")
    cleared: bool = Field(description="The latest answer of occupational health; never why.")
    cleared_until: InstantOut | None = Field(description="Null where it has no end.")
    fits: list[FitOut]
    left: InstantOut | None
    erased: InstantOut | None = Field(description="When the name was erased.")


class WearersOut(BaseModel):
    """Is one page of wearers, by pseudonym."""

    wearers: list[WearerOut]
    next: str | None = None


@router.post(
    "/wearers",
    operation_id="register-wearer",
    summary="Register a wearer; the name is kept beside the record",
    response_class=Response,
    responses={200: {"description": "On record.", "model": AnswerOut}, **responses(*WRITING, "wrong-use")},
)
async def register(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("register-wearer"))],
    body: RegisterIn,
) -> Response:
    """Returns an answer whose subject is the pseudonym; the same key means the same one."""
    parts = served(request)
    pseudonym = body.wearer or await anyio.to_thread.run_sync(_pseudonym, parts.department, key)
    kept = PersonName(body.who.name, body.who.badge, body.who.contact)
    call = await call_by_hand(request, caller, body, key, RegisterWearer(pseudonym, body.unit), personal=kept)
    answer = await ask(parts, call)
    return answered(request, answer, await zone_of(parts, call.station))


def _pseudonym(department: Department, key: str) -> str:
    """Returns the pseudonym that a key was answered with, or a new one."""
    before = department.subject_of_key(key)
    return subject_of(before) if before is not None else pseudonym_from(department.clock)


@router.post(
    "/wearers/names",
    operation_id="read-names",
    summary="Who some wearers are; every reading is on record",
    response_model=NamesOut,
    responses=responses(*WRITING, "wrong-use"),
)
async def names(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("read-names"))],
    body: ReadNamesIn,
) -> Response:
    """Shows names to a role that may know them, for a purpose that is recorded with each of them."""
    parts = served(request)
    asked = ReadNames(tuple(dict.fromkeys(body.wearers)), body.why, body.case)
    call = await call_by_hand(request, caller, body, key, asked)
    answer, shown = await anyio.to_thread.run_sync(parts.department.desk.reveal, call)
    response = answered(request, answer, await zone_of(parts, call.station))
    if not answer.accepted:
        return response
    told = [] if answer.repeated else [_name(one, shown.get(one)) for one in asked.wearers]
    return private(NamesOut(answer=AnswerOut.model_validate_json(bytes(response.body)), names=told))


def _name(wearer: str, name: PersonName | None) -> NameOut:
    if name is None:
        return NameOut(wearer=wearer, name=None, badge=None, contact=None)
    return NameOut(wearer=wearer, name=name.name, badge=name.badge, contact=name.contact)


@router.post(
    "/wearers/{wearer}/trace",
    operation_id="trace-wearer",
    summary="What one wearer wore; that it was looked at is on record",
    response_model=GuardedOut,
    responses=responses(*WRITING, "wrong-use"),
)
async def trace(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("trace-wearer"))],
    body: Envelope,
    wearer: Named,
    within: Annotated[Span, Depends(span)],
) -> Response | GuardedOut:
    """Asks first whether the caller may see it, which is an entry, and then answers."""
    return await shown_after(
        request, caller, body, key, TraceWearer(wearer), lambda: found_by(request, caller, "wearer", wearer, within)
    )


@router.get(
    "/wearers",
    operation_id="list-wearers",
    summary="Every wearer, by pseudonym",
    response_model=WearersOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def wearers(
    request: Request,
    response: Response,
    caller: Reader,
    asked: Paged,
    unit: Asked = None,
    state: Literal["active", "left", "all"] = "active",
) -> dict[str, Any]:
    """Lists wearers, those who left only where asked."""
    with reading(request) as read:
        found = [
            one
            for one in read.states_of(StreamKind.WEARER)
            if isinstance(one, Wearer)
            and one.known
            and in_sight(caller, one.site)
            and unit in (None, one.unit)
            and (state == "all" or one.active == (state == "active"))
        ]
    rows, following = page(request, response, found, lambda one: one.wearer, asked)
    return {"wearers": [_told(one) for one in rows], "next": following}


@router.get(
    "/wearers/{wearer}",
    operation_id="read-wearer",
    summary="One wearer: training, clearance, fit tests; no name",
    response_model=WearerOut,
    responses=responses(*READING, "unknown-subject"),
)
def wearer(request: Request, caller: Reader, wearer: Named) -> dict[str, Any]:
    """Returns what a wearer may be issued, until when."""
    with reading(request) as read:
        return _told(seen(read, caller, StreamKind.WEARER, wearer, Wearer))


def _told(one: Wearer) -> dict[str, Any]:
    return {
        "wearer": one.wearer,
        "unit": one.unit,
        "site": one.site,
        "active": one.active,
        "trained_until": _at(one.trained_until_us),
        "cleared": one.cleared,
        "cleared_until": _at(one.cleared_until_us),
        "fits": [{"model": model, "until": _at(until_us)} for model, until_us in sorted(one.fits.items())],
        "left": _at(one.left_us),
        "erased": _at(one.erased_us),
    }


def _at(at_us: int | None) -> str | None:
    return None if at_us is None else instant(at_us)
