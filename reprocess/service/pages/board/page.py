"""The board: what runs, what is overdue, what is held, what waits for whom; and the list that a shift hands over.

A screen where nobody is signed in shows it. Two hundred boards ask after each entry, so its part is rendered once for
each site, language and second, and kept for the others.
"""

from __future__ import annotations

import asyncio
from functools import partial
from typing import Annotated, Any, Final
from urllib.parse import urlencode

import anyio.to_thread
from fastapi import APIRouter, Depends
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from reprocess.gathering import local_text
from reprocess.languages import Text, facts
from reprocess.ledger.append import looking
from reprocess.record.places import Site
from reprocess.reminders import wording
from reprocess.reminders.listing import Listed
from reprocess.rules.permissions import ROLES
from reprocess.service import seeing, who
from reprocess.service.pages import language, rendering
from reprocess.service.pages.board import rows as board_rows
from reprocess.service.pages.board.rows import Board, Handover
from reprocess.service.pages.forms import PageRoute
from reprocess.service.pages.kept import Kept
from reprocess.service.pages.rendering import Words
from reprocess.service.seeing import Asked
from reprocess.service.served import Served, served
from reprocess.service.who import Caller
from reprocess.terms import StreamKind

router = APIRouter(route_class=PageRoute, include_in_schema=False)
EVERY: Final = "all"
"""What the address says for all sites that the caller sees."""
KEPT_MOST: Final = 32
"""So many rendered boards are kept: sites by languages, within one second (our choice)."""
SAID: Final = "board.say"
"""The sort of the texts of reminders in other languages; their English stands in `reminders.wording`."""
_SORTS: Final = {"to": "role", "signal": "signal"}
"""The sorts of those words of a reminder that no reason of the rules has."""
Reader = Annotated[Caller, Depends(who.caller_or_screen)]


@router.get("/board")
async def show(request: Request, caller: Reader, site: Asked = None) -> Response:
    """Show the board; its own script asks for its middle part alone."""
    who.must(who.may_of(caller, "read-board"))
    parts = served(request)
    chosen, sites = await anyio.to_thread.run_sync(_site, parts, caller, site)
    if rendering.FRAGMENT in request.headers:
        return HTMLResponse(await _part(request, caller, chosen), 200, {"Cache-Control": "no-store"})
    shown = await _board(parts, caller, chosen)
    source = f"/board?{urlencode([('site', chosen or EVERY), *_language(request)])}"
    return rendering.page(request, "board.html", caller=caller, sites=sites, source=source, **_context(request, shown))


@router.get("/board/handover")
async def hand_over(
    request: Request, caller: Annotated[Caller, Depends(who.needs("read-board"))], site: Asked = None
) -> Response:
    """Show the list that one shift hands to the next, for one page of paper."""
    parts = served(request)
    chosen, _ = await anyio.to_thread.run_sync(_site, parts, caller, site)
    shown: Handover = await anyio.to_thread.run_sync(board_rows.handover, parts.department, caller, chosen)
    context = _context(request, shown.board)
    return rendering.page(request, "board_handover.html", caller=caller, list=shown, **context)


def _language(request: Request) -> list[tuple[str, str]]:
    return [("language", one) for one in request.query_params.getlist("language")[:1]]


def _site(parts: Served, caller: Caller, asked: str | None) -> tuple[str | None, list[Site]]:
    """Returns (the site that is shown, the sites that could be): the one asked for, else that of the station.

    Raises:
        UnknownSubjectError: it is not on record, or not for this caller.
    """
    with looking(parts.department.ledger) as read:
        sites = board_rows.sites_seen(read, caller)
        if asked is not None and asked != EVERY:
            return seeing.seen(read, caller, StreamKind.SITE, asked, Site).site, sites
    if asked == EVERY:
        return None, sites
    if caller.station is None:
        return None, sites
    return parts.department.site_of_station(caller.station) or None, sites


async def _board(parts: Served, caller: Caller, site: str | None) -> Board:
    """Returns the rows of the board as of this second; boards that ask together share them."""
    kept: Kept[Board] = parts.parts.setdefault("board-rows", Kept(KEPT_MOST))

    async def make() -> Board:
        return await anyio.to_thread.run_sync(board_rows.board, parts.department, caller, site)

    return await kept.get(await _now(parts, caller, site), make)


async def _now(parts: Served, caller: Caller, site: str | None) -> tuple[object, ...]:
    """Returns what the rows depend on: whose sites, which one, the latest entry, the second that passes here."""
    last = await anyio.to_thread.run_sync(parts.department.last_feed)
    return caller.sites, site, last, second()


def second() -> int:
    """Returns the number of the second that passes at this node, by a clock that nobody sets."""
    return int(asyncio.get_running_loop().time())


async def _part(request: Request, caller: Caller, site: str | None) -> bytes:
    """Returns the middle part of the board in the language of the request, rendered once for all who ask together."""
    parts = served(request)
    kept: Kept[bytes] = parts.parts.setdefault("board-parts", Kept(KEPT_MOST))

    async def make() -> bytes:
        shown = await _board(parts, caller, site)
        context = _context(request, shown)
        made = await anyio.to_thread.run_sync(partial(rendering.page, request, "board_part.html", **context))
        return bytes(made.body)

    tongue = rendering.words_for(request).texts.language
    return await kept.get((*await _now(parts, caller, site), tongue), make)


def _context(request: Request, shown: Board) -> dict[str, Any]:
    """Returns what the templates of the board name: its rows, and how they say reminders and instants."""
    words = rendering.words_for(request)
    return {
        "board": shown,
        "say": partial(said, words),
        "whom": partial(_whom, words),
        "at": partial(local_text, shown.zone),
        "clock": partial(rendering.clock_time, shown.zone),
        "every": EVERY,
    }


def _whom(words: Words, name: str) -> Markup:
    """Returns what a role is called; somebody who is no role stands as they are written."""
    return words.known("role", name) if name in ROLES else rendering.isolated(name)


def said(words: Words, one: Listed) -> Markup:
    """Returns what a reminder says, in the language of the page; in English, and marked so, where that lacks it."""
    due, texts = one.row.due, words.texts
    key = f"{SAID}.{due.words.get('say')}"

    def show(at_us: int) -> str:
        return local_text(one.zone, at_us)

    if texts.has(key):
        return words(key, **_facts(words, one))
    return words.told(Text(wording.sentence(due, show), language.FIRST))


def _facts(words: Words, one: Listed) -> dict[str, str]:
    """Returns the words of a reminder for its sentence: instants as local time, steps and roles by their names."""
    filled = {"subject": one.row.due.subject}
    for name, word in one.row.due.words.items():
        if name.endswith("_us") and isinstance(word, int):
            filled[name.removesuffix("_us")] = local_text(one.zone, word)
        else:
            filled[name] = _spoken(words, name, str(word))
    return filled


def _spoken(words: Words, name: str, word: str) -> str:
    sorts = [facts.key(_SORTS[name], word)] if name in _SORTS else facts.keys(name, word)
    return next((str(words.texts(key)) for key in sorts if words.texts.has(key)), word)
