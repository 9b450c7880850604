"""The hatch: what a ward or a technician does at the counter, by scans: issue, return, a new battery, a cabinet opened.

Every page works without script: a form, its answer on top of the next page. What can be told at the hatch is a fact
and is not refused; what is asked for is looked over first. Wearers stand here by badge or pseudonym, never by name.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Annotated, Any, Final
from urllib.parse import quote

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import OpenCabinet
from reprocess.errors import UnknownSubjectError
from reprocess.gathering import local_text
from reprocess.ledger.append import looking
from reprocess.rules.answer import Answer, Reason, Verdict
from reprocess.rules.custody import PURPOSES
from reprocess.service import scanning, who
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, form_of, see
from reprocess.service.pages.hatch import forms as hatch_forms
from reprocess.service.pages.hatch import shown as hatch_shown
from reprocess.service.pages.hatch.forms import Made
from reprocess.service.pages.hatch.shown import DEEDS, Counter, Thing
from reprocess.service.pages.kept import Kept
from reprocess.service.scanning import Scanned
from reprocess.service.seeing import Named, unknown
from reprocess.service.served import Served, served
from reprocess.service.who import Caller
from reprocess.terms import SECOND_US

router = APIRouter(route_class=PageRoute, include_in_schema=False)
Sent = Annotated[Form, Depends(form_of)]
Reader = Annotated[Caller, Depends(who.needs("read-items"))]
CONFLICT: Final = 409
CHANGED: Final = 412
"""The item changed since its page was made: it is looked over anew (RFC 9110, section 15.5.13)."""
KEPT_MOST: Final = 64
"""So many first pages are kept: stations by what their people may see, within one second (our choice)."""
CODE_MOST: Final = 256
"""Characters of a scanned string that are looked at, as over HTTP."""


@router.get("/hatch")
async def first(request: Request, caller: Reader) -> Response:
    """Show where to scan, what is ready here and what should be back."""
    return await _first(request, caller)


async def _first(request: Request, caller: Caller, *, status: int = 200, **more: Any) -> Response:
    counter = await _counter(served(request), caller)
    told: dict[str, Any] = {
        "shown": None,
        "done": None,
        "fault": None,
        "seen": None,
        "unknown": None,
        "lacking": {},
        "taken": (),
    }
    context = await _context(request, caller)
    whole = "hatch_lists.html" if rendering.FRAGMENT in request.headers else "hatch.html"
    return rendering.page(request, whole, status=status, counter=counter, **context, **(told | more))


async def _counter(parts: Served, caller: Caller) -> Counter:
    """Returns what the first page lists, as of this second; hatches that ask together share it."""
    kept: Kept[Counter] = parts.parts.setdefault("hatch-lists", Kept(KEPT_MOST))

    async def make() -> Counter:
        return await anyio.to_thread.run_sync(hatch_shown.counter, parts.department, caller)

    last = await anyio.to_thread.run_sync(parts.department.last_feed)
    at_s = parts.department.clock.now().wall_us // SECOND_US
    return await kept.get((caller.sites, caller.station, caller.names_wearers, last, at_s), make)


async def _context(request: Request, caller: Caller) -> dict[str, Any]:
    """Returns what every page of the hatch names."""
    zone = await acting.zone_for(request, caller)
    return {
        "caller": caller,
        "key": acting.new_key(request),
        "at": partial(local_text, zone),
        "told": partial(_reason, request, zone),
    }


def _reason(request: Request, zone: str, reason: Reason) -> rendering.Told:
    return rendering.told(reason, rendering.words_for(request), zone)


@router.post("/hatch")
async def scan(request: Request, caller: Reader, form: Sent) -> Response:
    """Go on to what was scanned; anything but an item or a place is told, and nothing is recorded."""
    code = (form.get("code") or "")[:CODE_MOST]
    found = await anyio.to_thread.run_sync(_understood, served(request), caller, code)
    match found.sort:
        case "item" if found.name is not None:
            return see(f"/hatch/item/{quote(found.name)}")
        case "place" if found.name is not None:
            return see(f"/hatch/place/{quote(found.name)}")
        case scanning.UNKNOWN:
            return await _first(request, caller, status=CONFLICT, fault="unknown", seen=found.seen, unknown=found.name)
        case "badge":
            return await _first(request, caller, status=CONFLICT, fault="badge-first")
        case scanning.UNREADABLE:
            return await _first(request, caller, status=CONFLICT, fault="unreadable", seen=found.seen)
        case _:
            return await _first(request, caller, status=CONFLICT, fault="not-here", seen=found.seen)


def _understood(parts: Served, caller: Caller, code: str) -> Scanned:
    department = parts.department
    with looking(department.ledger) as read:
        now_us = department.clock.now().wall_us
        return scanning.understood(read, department.library, caller, [code], now_us).codes[0]


@router.get("/hatch/item/{name}")
async def item(request: Request, caller: Reader, name: Named) -> Response:
    """Show where an item stands and what can be done with it here; what is held says STOP first."""
    found = await anyio.to_thread.run_sync(hatch_shown.thing, served(request).department, caller, name)
    return await _item(request, caller, found)


async def _item(request: Request, caller: Caller, found: Thing, *, status: int = 200, **more: Any) -> Response:
    context = await _context(request, caller) | {"shown": None, "recorded": False, "lacking": {}} | more
    whole = "hatch_item_part.html" if rendering.FRAGMENT in request.headers else "hatch_item.html"
    return rendering.page(request, whole, status=status, found=found, **context)


@router.get("/hatch/item/{name}/{deed}")
async def ask_deed(request: Request, caller: Reader, name: Named, deed: str) -> Response:
    """Show the form of one deed, with nothing filled in beforehand."""
    found = await _found(request, caller, name, deed)
    return await _form(request, caller, deed, name, found)


async def _found(request: Request, caller: Caller, name: str, deed: str) -> Thing | None:
    """Returns the item of a deed; None where nothing of the name is on record and the deed is told all the same.

    Raises:
        UnknownSubjectError: it is not on record, or there is no such deed.
        NotAllowedError: the caller may not do it.
    """
    if deed not in DEEDS:
        raise unknown(deed)
    who.must(who.may_of(caller, DEEDS[deed]))
    try:
        return await anyio.to_thread.run_sync(hatch_shown.thing, served(request).department, caller, name)
    except UnknownSubjectError:
        if deed != "return":
            raise
        return None


async def _form(
    request: Request, caller: Caller, deed: str, name: str, found: Thing | None, *, status: int = 200, **more: Any
) -> Response:
    context = await _context(request, caller) | more
    return _deed(request, context, deed, name, found, status=status)


def _deed(
    request: Request,
    context: Mapping[str, Any],
    deed: str,
    name: str,
    found: Thing | None,
    *,
    status: int = 200,
    **more: Any,
) -> Response:
    """Returns the page of a deed; what was given stands in it again, but for badges and PINs."""
    own = {"shown": None, "faults": (), "given": Form(()), "purposes": PURPOSES}
    told = {"deed": deed, "name": found.item.item if found is not None else name, "found": found}
    return rendering.page(request, f"hatch_{deed}.html", status=status, **(own | dict(context) | told | more))


@router.post("/hatch/item/{name}/{deed}")
async def do_deed(request: Request, caller: Reader, name: Named, deed: str, form: Sent) -> Response:
    """Ask for a deed; accepted, the hatch is shown with the answer, else its form, with the answer on top."""
    found = await _found(request, caller, name, deed)
    department, context = served(request).department, await _context(request, caller)

    def again(*, status: int, shown: rendering.AnswerShown, typed: Typed) -> Response:
        given = Form(()) if status == CHANGED else typed.form.without(_NOT_KEPT)
        return _deed(request, context, deed, name, found, status=status, shown=shown, given=given)

    comes_back(request, form, again)

    def made() -> Made:
        if found is None or deed == "return":
            return hatch_forms.give_back(department, name if found is None else found.item.item, form)
        return hatch_forms.MADE[deed](department, found, form)

    wanted = await anyio.to_thread.run_sync(made)
    if wanted.request is None:
        return await _form(
            request, caller, deed, name, found, status=CONFLICT, faults=wanted.faults, given=form.without(_NOT_KEPT)
        )
    seen = _version(form) if deed == "issue" else None
    answer = await acting.act(request, caller, form, wanted.request, version=seen)
    shown = await _shown(request, caller, answer)
    if answer.accepted:
        after = await _again(request, caller, name) if deed == "issue" else None
        return await _first(request, caller, shown=shown, done=after, lacking=wanted.lacking or {})
    after = await _again(request, caller, name)
    recorded = (deed == "return" and answer.verdict is not Verdict.REFUSED) or bool(answer.found)
    if after is not None and (recorded or after.held):
        more = {"shown": shown, "recorded": recorded, "lacking": wanted.lacking or {}}
        return await _item(request, caller, after, status=CONFLICT, **more)
    return await _form(request, caller, deed, name, after, status=CONFLICT, shown=shown, given=form.without(_NOT_KEPT))


def _version(form: Form) -> int | None:
    """Returns which state of an item was shown when it was looked over; a form that does not say so confirms nothing.

    Raises:
        ProblemError: it does not say.
    """
    form.must("version")
    return form.number("version")


_NOT_KEPT: Final = frozenset({"wearer", "pin", "second_badge", "second_pin", "key", "version"})
"""What is not shown again: a badge, a PIN, the key of the page before."""


async def _again(request: Request, caller: Caller, name: str) -> Thing | None:
    """Returns the item as it stands now, or None where nothing of the name is on record."""
    try:
        return await anyio.to_thread.run_sync(hatch_shown.thing, served(request).department, caller, name)
    except UnknownSubjectError:
        return None


async def _shown(request: Request, caller: Caller, answer: Answer) -> rendering.AnswerShown:
    """Returns an answer for the page; a pseudonym stands in it only for whoever may know one."""
    words = rendering.words_for(request)
    kept = hatch_forms.without_wearer(answer, caller, words.plain("hatch.this-wearer"))
    return await acting.answer_shown(request, caller, kept, words)


@router.get("/hatch/place/{name}")
async def place(request: Request, caller: Reader, name: Named) -> Response:
    """Show what lies at a place; a cabinet can be told to have been opened."""
    return await _place(request, caller, name)


async def _place(request: Request, caller: Caller, name: str, *, status: int = 200, **more: Any) -> Response:
    found = await anyio.to_thread.run_sync(hatch_shown.spot, served(request).department, caller, name)
    context = await _context(request, caller) | {"shown": None} | more
    return rendering.page(request, "hatch_place.html", status=status, spot=found, **context)


@router.post("/hatch/place/{name}/opened")
async def opened(
    request: Request, caller: Annotated[Caller, Depends(who.needs("open-cabinet"))], name: Named, form: Sent
) -> Response:
    """State that a cabinet was opened in an emergency; what is not marked as there was taken (E28)."""
    before = await anyio.to_thread.run_sync(hatch_shown.spot, served(request).department, caller, name)
    context = await _context(request, caller)

    def again(*, status: int, shown: rendering.AnswerShown, typed: Typed) -> Response:
        del typed
        return rendering.page(request, "hatch_place.html", status=status, spot=before, **context, shown=shown)

    comes_back(request, form, again)
    present = tuple(form.all("present"))
    seal = await anyio.to_thread.run_sync(hatch_forms.seal_in, served(request).department, form)
    asked = OpenCabinet(name, seal or "not said", present)
    answer = await acting.act(request, caller, form, asked)
    shown = await _shown(request, caller, answer)
    if not answer.accepted:
        return await _place(request, caller, name, status=CONFLICT, shown=shown)
    taken = tuple(one.item for one in before.units if one.item not in present)
    return await _first(request, caller, shown=shown, taken=taken, done=None)
