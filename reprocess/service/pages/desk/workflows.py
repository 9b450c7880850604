"""Files at the desk: versions, diagram, proof and differences; one person proposes, another one puts it in force."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.definitions.model import Workflow
from reprocess.definitions.read import digest_of
from reprocess.engine.enrolling import Approve, Publish, Sort
from reprocess.engine.live import ConfirmSources
from reprocess.service import who
from reprocess.service.api import workflows as files
from reprocess.service.api.workflows import CheckIn, FileCheckOut, NameOfFile
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.desk.diagram import diagram
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import department_of, reading
from reprocess.service.who import Caller
from reprocess.service.writing import Text

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-files"))]
Sent = Annotated[Form, Depends(form_of)]
TEXT_MAX: Final = 60_000


@router.get("/workflows")
def listed(request: Request, caller: Reader) -> Response:
    """Show every file: what is in force, what waits for a second person, what is not confirmed."""
    with reading(request) as read:
        found = sorted(files.published_files(read), key=files.name_of)
    missing = files.live(request, caller).files
    return rendering.page(request, "desk/workflows.html", files=found, missing=missing)


@router.get("/workflows/{sort}/{name}")
def shown(request: Request, caller: Reader, sort: Sort, name: NameOfFile, digest: str | None = None) -> Response:
    """Show one file with a text of it: the proposed one where one waits, else that in force."""
    return _page(request, caller, sort, name, digest)


def _page(
    request: Request, caller: Caller, sort: Sort, name: str, digest: str | None, *, status: int = 200, **more: Any
) -> Response:
    with reading(request) as read:
        known = files.known_file(read, sort, name)
        chosen = digest or known.proposed or known.in_force or ""
        whole = files.whole_file(request, read, known, chosen)
        held = department_of(request).library.get(read, chosen)
    differs = known.in_force is not None and chosen != known.in_force
    difference = files.differences(request, caller, sort, name, known.in_force, chosen) if differs else None
    told = {
        "file": whole,
        "diagram": diagram(held) if isinstance(held, Workflow) else None,
        "difference": difference,
        "own": whole.proposed_by == caller.person,
        "zone": department_of(request).zone_of_station(caller.station or ""),
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/workflow.html", status=status, caller=caller, **told | more)


@router.post("/workflows/check")
async def check(request: Request, caller: Reader, form: Sent) -> Response:
    """Show what a changed text comes to, before anybody proposes it: every fault with its line, the proof."""
    text, sort, name = _text(form), form.must("sort"), form.must("name")
    return await anyio.to_thread.run_sync(_checked, request, caller, sort, name, text)


def _checked(
    request: Request, caller: Caller, sort: str, name: str, text: str, *, status: int = 200, **more: Any
) -> Response:
    found: FileCheckOut = files.check(request, caller, CheckIn(text=text))
    told = {
        "found": found,
        "another": found.sound and (found.sort, found.name) != (sort, name),
        "text": text,
        "sort": sort,
        "name": name,
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/workflow-check.html", status=status, caller=caller, **told | more)


def _text(form: Form) -> str:
    """Returns the text of a form as files have it: lines that end in a line feed.

    Raises:
        ProblemError: there is none, it is too long, or it does not read as it stands there.
    """
    raw = next((value for name, value in form.fields if name == "text"), "")
    text = raw.replace("\r\n", "\n").replace("\r", "\n")
    if not 0 < len(text) <= TEXT_MAX:
        message = f"A text has from 1 to {TEXT_MAX} letters; nothing was recorded."
        raise ProblemError("invalid", message)
    if rendering.visible(text) != text:
        message = "The text holds marks that nobody sees. Take them out. Nothing was recorded."
        raise ProblemError("invalid", message)
    return text


@router.post("/workflows/{sort}/{name}/propose")
async def propose(
    request: Request, caller: Annotated[Caller, Depends(who.needs("publish"))], sort: Sort, name: NameOfFile, form: Sent
) -> Response:
    """Propose a text; it is in force only once another person approved it."""
    text: Text = _text(form)
    again = partial(_checked, request, caller, sort, name, text)
    return await _done(request, caller, form, Publish(sort, name, digest_of(text), text), again)


@router.post("/workflows/{sort}/{name}/approve")
async def approve(
    request: Request, caller: Annotated[Caller, Depends(who.needs("approve"))], sort: Sort, name: NameOfFile, form: Sent
) -> Response:
    """Put a proposed text in force, for open cycles too where it is a change for safety."""
    asked = Approve(sort, name, form.must("digest"), safety=form.get("safety") is not None)
    return await _done(request, caller, form, asked, partial(_page, request, caller, sort, name, None))


@router.post("/workflows/{sort}/{name}/confirm")
async def confirm(
    request: Request,
    caller: Annotated[Caller, Depends(who.needs("confirm-sources"))],
    sort: Sort,
    name: NameOfFile,
    form: Sent,
) -> Response:
    """Keep that a named person compared every number in force with its source."""
    again = partial(_page, request, caller, sort, name, None)
    comes_back(request, form, again)
    asked = ConfirmSources(sort, name, form.must("digest"), form.must("statement"))
    return await _done(request, caller, form, asked, again)


async def _done(
    request: Request,
    caller: Caller,
    form: Form,
    asked: Publish | Approve | ConfirmSources,
    again: Callable[..., Response],
) -> Response:
    comes_back(request, form, again)
    answer = await acting.act(request, caller, form, asked)
    after = partial(_page, request, caller, asked.sort, asked.name, asked.digest)
    return await acting.answered(request, caller, answer, after if answer.accepted else again)
