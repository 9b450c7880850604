"""Numbered paper forms: whether each was entered, and its lines, one by one, after the form itself (D05-D07)."""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import TYPE_CHECKING, Annotated, Any, Final, get_args

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import EnterLine
from reprocess.engine.request.paper import LineWork
from reprocess.record.forms import Form
from reprocess.service import who
from reprocess.service.answers import AnswerOut, Instant, answered, as_us, instant
from reprocess.service.asking import ask, zone_of
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, WRITING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, reading, seen
from reprocess.service.served import served
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.service.writing import NOTHING, Envelope, Key, Name, call_by_hand, request_of_line, schema_of_line
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["forms"])
Reader = Annotated[Caller, Depends(who.needs("read-forms"))]
LINES_MAX: Final = 1_000
KINDS: Final[dict[str, Any]] = {one.asked: one for one in get_args(LineWork)}
if TYPE_CHECKING:
    Work = BaseModel
else:
    Work = Annotated[reduce(or_, (schema_of_line(one) for one in KINDS.values())), Field(discriminator="did")]


class FormOut(BaseModel):
    """Is one form and who entered it."""

    form: str
    source: str = Field(description="`paper`, or `queue` for a station that was cut off.")
    lines: int
    digest: str
    entered: InstantOut | None
    entered_by: str | None
    countersigned_by: str | None


class FormsOut(BaseModel):
    """Is one page of forms, by number."""

    forms: list[FormOut]
    next: str | None = None


class LineIn(Envelope):
    """Is one line of a form that was entered."""

    line: Annotated[int, Field(ge=1, le=LINES_MAX, description="Its number on the form, from 1.")]
    work: Work = Field(examples=[{"did": "do-step", "item": "BLW-0041", "step": "clean"}])
    done_by: Name = Field(description="The badge of whoever did it.")
    done_with: Name | NOTHING = Field(default=None, description="The badge of the second person who was there.")
    ended: Instant = Field(description="When it happened or ended.")
    began: Instant | NOTHING = None


@router.get(
    "/forms",
    operation_id="list-forms",
    summary="Every form that was entered",
    response_model=FormsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def forms(request: Request, response: Response, caller: Reader, asked: Paged) -> dict[str, Any]:
    """Lists forms, and the queues of stations that were cut off."""
    del caller
    with reading(request) as read:
        found = [one for one in read.states_of(StreamKind.FORM) if isinstance(one, Form) and one.number]
    rows, following = page(request, response, found, lambda one: one.form, asked)
    return {"forms": [_told(one) for one in rows], "next": following}


@router.get(
    "/forms/{form}",
    operation_id="read-form",
    summary="Whether a form was entered, when and by whom",
    response_model=FormOut,
    responses=responses(*READING, "unknown-subject"),
)
def form(request: Request, caller: Reader, form: Named) -> dict[str, Any]:
    """Returns one form."""
    with reading(request) as read:
        return _told(seen(read, caller, StreamKind.FORM, form, Form))


@router.post(
    "/forms/{form}/lines",
    operation_id="enter-line",
    summary="Enter one line of a form that was entered just before",
    response_class=Response,
    responses={200: {"description": "On record.", "model": AnswerOut}, **responses(*WRITING, "wrong-use")},
)
async def line(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("enter-line"))],
    body: LineIn,
    form: Named,
) -> Response:
    """Judges the line as the work of whoever did it; what contradicts the record is kept and holds the item."""
    parts = served(request)
    told: dict[str, Any] = body.work.model_dump()
    asked = EnterLine(
        form,
        body.line,
        request_of_line(KINDS[told.pop("did")], told),
        body.done_by,
        as_us(body.ended),
        as_us(body.began) if body.began is not None else None,
        body.done_with,
    )
    call = await call_by_hand(request, caller, body, key, asked)
    answer = await ask(parts, call)
    return answered(request, answer, await zone_of(parts, call.station))


def _told(one: Form) -> dict[str, Any]:
    return {
        "form": one.form,
        "source": one.source,
        "lines": one.lines,
        "digest": one.digest,
        "entered": None if one.entered_us is None else instant(one.entered_us),
        "entered_by": one.entered_by,
        "countersigned_by": one.countersigned_by,
    }
