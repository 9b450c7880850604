"""Look-back at the desk: who and what touched something, as a graph and a table; a wearer's asking is on record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import ReadCase, TraceWearer
from reprocess.gathering.lookback import look
from reprocess.gathering.recalls import Asked
from reprocess.pictures.drawing import drawn
from reprocess.pictures.picture import frame_in
from reprocess.pictures.trace import trace
from reprocess.record.touching import Touched
from reprocess.service import who
from reprocess.service.answers import as_us, through_us
from reprocess.service.api import lookbacks as api
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.desk.instants import instant_of
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of
from reprocess.service.pages.rendering import AnswerShown
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import department_of, in_sight, reading
from reprocess.service.who import Caller

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-lookback"))]
GUARDED: Final = {"wearer": "trace-wearer", "case": "read-case"}
"""What is shown only once it is on record who looked, and the operation that does so."""


@dataclass(frozen=True, slots=True)
class Question:
    """Is what somebody asks to look back by, as typed."""

    sort: str = ""
    name: str = ""
    since: str = ""
    until: str = ""
    as_of: str = ""
    after: int = 0


@router.get("/lookback")
def asked(
    request: Request,
    caller: Reader,
    sort: str = "",
    name: str = "",
    since: str = "",
    until: str = "",
    as_of: str = "",
    after: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> Response:
    """Show the question, and its answer where it can be asked without an entry."""
    question = Question(sort[:32], name.strip()[:64], since[:40], until[:40], as_of[:40], after)
    comes_back(request, Form(()), partial(_page, request, caller, question))
    if question.name and question.sort in api.OPEN:
        return _shown(request, caller, question)
    return _page(request, caller, question)


@router.post("/lookback")
async def guarded(request: Request, caller: Reader, form: Annotated[Form, Depends(form_of)]) -> Response:
    """Ask about a wearer or a case: first that somebody looks is on record, then what is found is shown."""
    question = Question(
        form.get("sort") or "",
        form.get("name") or "",
        form.get("since") or "",
        form.get("until") or "",
        form.get("as_of") or "",
    )
    again = partial(_page, request, caller, question)
    comes_back(request, form, again)
    await anyio.to_thread.run_sync(_span, request, caller, question)
    answer = await acting.act(request, caller, form, _looking(form))
    if not answer.accepted or answer.repeated:
        return await acting.answered(request, caller, answer, partial(again, repeated=answer.repeated))
    comes_back(request, form.without(["key"]), again)
    shown = await acting.answer_shown(request, caller, answer)
    return await anyio.to_thread.run_sync(lambda: _shown(request, caller, question, shown=shown))


def _looking(form: Form) -> ReadCase | TraceWearer:
    """Returns the request that puts on record who looks.

    Raises:
        ProblemError: nothing is named, or it is nothing that is looked at this way.
    """
    sort, name = form.must("sort"), form.must("name")
    if sort not in GUARDED:
        message = "Choose a wearer or a case. Nothing was shown."
        raise ProblemError("invalid", message)
    return ReadCase(name) if sort == "case" else TraceWearer(name)


def _page(request: Request, caller: Caller, question: Question, *, status: int = 200, **more: Any) -> Response:
    told = {
        "question": question,
        "open": api.OPEN,
        "guarded": [one for one, operation in GUARDED.items() if who.may_of(caller, operation) is None],
        "repeated": False,
        "found": None,
        "picture": None,
        "zone": department_of(request).zone_of_station(caller.station or ""),
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/lookback.html", status=status, caller=caller, **told | more)


def _span(request: Request, caller: Caller, question: Question) -> api.Span:
    """Returns the instants of a question.

    Raises:
        ProblemError: one of them is no date and time.
    """
    zone = department_of(request).zone_of_station(caller.station or "")

    def read(text: str) -> datetime | None:
        return instant_of(text, zone) if text else None

    return api.Span(read(question.since), read(question.until), read(question.as_of), after=question.after)


def _shown(request: Request, caller: Caller, question: Question, *, shown: AnswerShown | None = None) -> Response:
    zone = department_of(request).zone_of_station(caller.station or "")
    span = _span(request, caller, question)
    found = api.found_by(request, caller, question.sort, question.name, span)
    since_us = as_us(span.since) if span.since is not None else None
    until_us, as_of_us = (through_us(one) if one is not None else None for one in (span.until, span.as_of))
    with reading(request) as read:
        whole = look(read, Asked(question.sort, question.name, since_us, until_us), as_of_us=as_of_us)
        hidden = frozenset(one for one in whole.items if not in_sight(caller, read.item(one).site))
    frame = frame_in(rendering.words_for(request).texts, zone, "trace")
    named = caller.names_wearers or question.sort == Touched.WEARER
    picture = drawn(trace(whole, frame, named=named, hidden=hidden))
    return _page(request, caller, question, found=found, picture=picture, shown=shown)
