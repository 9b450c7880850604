"""The bench: one page at each station, driven by a scanner alone."""

from __future__ import annotations

from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.languages import LANGUAGES, texts_of
from reprocess.scan.code import printed
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service import who
from reprocess.service.api.sessions import cookie_fields
from reprocess.service.pages import rendering
from reprocess.service.pages.acting import new_key
from reprocess.service.pages.bench import showing as bench_showing
from reprocess.service.pages.bench.clocks import ClocksShown, clocks_of
from reprocess.service.pages.bench.place import Place, place_of, stations_of, taken_over
from reprocess.service.pages.bench.scan import Said, opened, read_form, scanned
from reprocess.service.pages.forms import Form, PageRoute, form_of
from reprocess.service.pages.language import COOKIE
from reprocess.service.pages.rendering import FRAGMENT, Words
from reprocess.service.served import served
from reprocess.service.who import Caller

router = APIRouter(route_class=PageRoute, include_in_schema=False)
Sent = Annotated[Form, Depends(form_of)]
ON_BUTTONS: Final = ("YES", "NEXT")
"""Commands that the page also has as buttons, for whoever has no sheet at hand."""
YEAR_S: Final = 365 * 86_400


@router.get("/bench")
async def benches(request: Request, caller: Annotated[Caller, Depends(who.caller_or_screen)]) -> Response:
    """List the stations."""
    who.must(who.may_of(caller, "read-places"))
    return rendering.page(request, "benches.html", caller=caller, stations=await stations_of(request, caller))


@router.get("/bench/{station}")
async def bench(request: Request, station: str) -> Response:
    """Show a bench as it is before the next scan."""
    place = await place_of(request, station)
    said = await opened(request, place)
    return await _page(request, place, said, rendering.words_for(request), "bench.html")


@router.get("/bench/{station}/clocks")
async def clocks(request: Request, station: str) -> Response:
    """Show the clocks that run at a bench."""
    place = await place_of(request, station)
    return rendering.page(request, "bench-clocks.html", caller=place.caller, clocks=await _clocks(request, place))


@router.post("/bench/{station}/scan")
async def scan(request: Request, station: str, form: Sent) -> Response:
    """Take one scan, and show its answer: in place of the one before, or as the whole page."""
    asked = read_form(form)
    place = await place_of(request, station)
    said = await scanned(request, place, asked)
    words = rendering.words_for(request)
    if said.language:
        words = Words(texts_of(_after(words.texts.language)))
    if said.secret is not None:
        place = await anyio.to_thread.run_sync(taken_over, request, place, said.secret)
    template = "bench-turn.html" if FRAGMENT in request.headers else "bench.html"
    answer = await _page(request, place, said, words, template)
    kept = cookie_fields(served(request))
    if said.language:
        answer.set_cookie(COOKIE, words.texts.language, max_age=YEAR_S, **kept)
    if said.secret is not None:
        answer.set_cookie(who.cookie_name(served(request)), said.secret, **kept)
        answer.set_cookie("station", station, **kept)
    return answer


def _after(language: str) -> str:
    """Returns the language that follows another one."""
    all_ = list(LANGUAGES)
    return all_[(all_.index(language) + 1) % len(all_)]


async def _clocks(request: Request, place: Place) -> ClocksShown:
    return await anyio.to_thread.run_sync(clocks_of, request, place)


async def _page(request: Request, place: Place, said: Said, words: Words, template: str) -> Response:
    """Returns a bench with an answer; what it carries names no badge that is not asked about."""
    now = served(request).department.clock.now()
    context: dict[str, Any] = {
        "words": words,
        "caller": place.caller,
        "place": place,
        "station": place.station.station,
        "since": rendering.clock_time(place.zone, place.since_us)[:5] if place.since_us is not None else "",
        "shown": bench_showing.shown(said, place, words, now),
        "key": new_key(request),
        "now_ms": now.wall_us // 1000,
        "codes": {name: printed(tag_of(COMMANDS[name])) for name in ON_BUTTONS} | {"station": place.station.station},
        "reload": said.language,
    }
    if template == "bench.html":
        context["clocks"] = await _clocks(request, place)
    return rendering.page(request, template, **context)
