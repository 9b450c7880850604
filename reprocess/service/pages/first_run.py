"""The first run on a page: the console's code and the first two administrators, before anybody can sign in."""

from __future__ import annotations

import re
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import ReprocessError
from reprocess.service import who
from reprocess.service.api.sessions import AdministratorIn
from reprocess.service.limits import source_of
from reprocess.service.pages import rendering
from reprocess.service.pages.forms import SIGN_IN, Form, PageRoute, form_of, must_wait, see
from reprocess.service.problems import KINDS, ProblemError, kind_of
from reprocess.service.served import served
from reprocess.signing_in import first_run
from reprocess.signing_in.first_run import Administrator

router = APIRouter(route_class=PageRoute, include_in_schema=False)
PERSON: Final = re.compile(r"[A-Za-z0-9]+(-[A-Za-z0-9]+)*")
BOTH: Final = (1, 2)


@router.get("/first-run")
async def ask_code(request: Request) -> Response:
    """Show the form for the code that the console printed."""
    return _page(request, {})


def _page(request: Request, given: dict[str, str], *, status: int = 200, fault: str | None = None) -> Response:
    return rendering.page(request, "first-run.html", status=status, given=given, fault=fault, both=BOTH)


@router.post("/first-run")
async def begin(request: Request, form: Annotated[Form, Depends(form_of)]) -> Response:
    """Let in the first two administrators, and go on to signing in."""
    parts = served(request)
    shown = {name: value for name, value in form.fields if not name.startswith(("pin", "code"))}
    try:
        who.sources_of(parts).tries(source_of(request.scope))
        first = tuple(_administrator(form, number) for number in BOTH)
        opened, pins = parts.department, who.door_of(parts).pins
        code = form.must("code")
        await anyio.to_thread.run_sync(first_run.begin, opened.ledger, opened.clock, pins, code, first)
    except ProblemError as fault:
        return _page(request, shown, status=KINDS[fault.kind].status, fault=fault.detail)
    except ReprocessError as fault:
        page = _page(request, shown, status=KINDS[kind_of(fault)].status, fault=fault.sentence)
        return must_wait(page, fault)
    return see(SIGN_IN)


def _administrator(form: Form, number: int) -> Administrator:
    told: dict[str, Any] = {name: form.must(f"{name}_{number}") for name in ("person", "name", "badge", "pin")}
    if not PERSON.fullmatch(told["person"]) or len(told["person"]) > PERSON_MOST:
        message = "An id has letters, digits and hyphens, such as P-12. Nothing was recorded."
        raise ProblemError("invalid", message)
    try:
        AdministratorIn(**told)
    except ValidationError as fault:
        message = "A name has 120 characters at most, a badge 64 without blanks. Nothing was recorded."
        raise ProblemError("invalid", message) from fault
    return Administrator(**told)


PERSON_MOST: Final = 32
