"""Recalls at the desk: preview, hold everything on it in one step, locate each item, close; how soon how many."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine import request as asking
from reprocess.engine.request import Request as AnyRequest
from reprocess.gathering.recalls import RECALLED_BY
from reprocess.record.recalls import Recall
from reprocess.rules.answer import Verdict
from reprocess.service import who
from reprocess.service.answers import as_us, through
from reprocess.service.api import recalls as api
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.desk.instants import instant_of
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of
from reprocess.service.paging import Cursor
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import NAME, Named, department_of, reading, seen
from reprocess.service.who import Caller
from reprocess.terms import StreamKind

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-recalls"))]
Sent = Annotated[Form, Depends(form_of)]
MOST: Final = 200
After = Annotated[str | None, Query(min_length=1, max_length=64, pattern=NAME)]


@router.get("/recalls")
def listed(request: Request, caller: Reader, after: After = None) -> Response:
    """Show every recall, and the form of a new one."""
    return _list(request, caller, after)


def _list(request: Request, caller: Caller, after: str | None = None, *, status: int = 200, **more: Any) -> Response:
    whole = api.recalls(request, Response(), caller, Cursor(MOST, after))
    told = {
        "recalls": whole["recalls"],
        "following": whole["next"],
        "sorts": sorted(RECALLED_BY),
        "may": who.may_of(caller, "preview-recall") is None,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/recalls.html", status=status, caller=caller, **told | more)


@router.get("/recalls/{recall}")
def shown(request: Request, caller: Reader, recall: Named) -> Response:
    """Show one recall with where each of its items is."""
    return _one(request, caller, recall)


def _one(request: Request, caller: Caller, recall: str, *, status: int = 200, **more: Any) -> Response:
    with reading(request) as read:
        version = seen(read, caller, StreamKind.RECALL, recall, Recall).number
    told = {
        "recall": api.recall(request, caller, recall),
        "version": version,
        "zone": department_of(request).zone_of_station(caller.station or ""),
        "may": who.may_of(caller, "commit-recall") is None,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/recall.html", status=status, caller=caller, **told | more)


@router.post("/recalls")
async def preview(request: Request, caller: Reader, form: Sent) -> Response:
    """Ask what a recall would reach; nothing is held yet."""
    comes_back(request, form, partial(_list, request, caller))
    zone = await acting.zone_for(request, caller)
    asked = _preview(form, zone)
    answer = await acting.act(request, caller, form, asked)
    refused = answer.verdict is Verdict.REFUSED
    make = partial(_list, request, caller) if refused else partial(_one, request, caller, asked.recall)
    return await acting.answered(request, caller, answer, make)


def _preview(form: Form, zone: str) -> asking.PreviewRecall:
    since, until, sort = form.get("since"), form.get("until"), form.must("sort")
    items = tuple((form.get("items") or "").split())
    return asking.PreviewRecall(
        form.name("recall"),
        sort,
        form.get("name") or "",
        form.must("cause"),
        form.must("owner"),
        from_us=as_us(instant_of(since, zone)) if since is not None else None,
        until_us=as_us(through(instant_of(until, zone))) if until is not None else None,
        items=items,
        notice=form.get("notice"),
    )


@router.post("/recalls/{recall}/{deed}")
async def change(request: Request, caller: Reader, recall: Named, deed: str, form: Sent) -> Response:
    """Hold what was previewed, name where an item lies, or close the recall."""
    show = partial(_one, request, caller, recall)
    comes_back(request, form, show)
    version = form.number("version") if deed == "commit" else None
    answer = await acting.act(request, caller, form, _asked(recall, deed, form), version=version)
    return await acting.answered(request, caller, answer, show)


def _asked(recall: str, deed: str, form: Form) -> AnyRequest:
    """Returns the request that a form makes.

    Raises:
        ProblemError: there is no such form, or a field is missing.
    """
    match deed:
        case "commit":
            return asking.CommitRecall(recall, form.number("total"))
        case "quarantine":
            return asking.PutInQuarantine(form.must("item"), form.must("place"))
        case "close":
            return asking.CloseRecall(recall, form.must("note"))
        case _:
            message = "There is no such form."
            raise ProblemError("not-found", message)
