"""Tells open pages every second that the server is there, and when something changed; they then ask for it themselves.

Nothing but numbers goes this way, so a stream may be handed to whoever may see any page. It ends after a while; the
browser opens it again by itself, and whoever is signed in is looked at anew.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Annotated, Final

from fastapi import APIRouter, Header
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import NotSignedInError
from reprocess.service import who
from reprocess.service.api.feed import watcher_of
from reprocess.service.pages.forms import PageRoute
from reprocess.service.problems import ProblemError
from reprocess.service.served import Served, served
from reprocess.service.streaming import EventStream, Streams, event
from reprocess.signing_in.sessions import NOBODY

BEAT_S: Final = 1.0
"""Seconds between two signs of life: a page tells within two that its server is gone."""
LASTS_S: Final = 300
"""Seconds after which a stream ends (our choice)."""
PAGES_MAX: Final = 400
"""Pages that one node tells at a time (our choice: twice as many as a large department has open)."""
PAGES_EACH: Final = 20
"""Of those, so many of one session or screen (our choice), so that one stolen secret takes the news of nobody else."""
SEEN_DIGITS: Final = 15
"""Digits of an entry's number in `Last-Event-ID`; all of them fit in what the record keeps."""
RETRY: Final = b"retry: 500\n\n"
"""The browser opens the stream again after half a second (WHATWG HTML, section 9.2.6)."""

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/live")
async def live(request: Request, last_event_id: Annotated[str, Header()] = "") -> Response:
    """Open the stream of one page; that it stays open is no use of its session."""
    parts = served(request)
    caller = who.still_there(request)
    if caller is None:
        raise NotSignedInError(NOBODY)
    request.state.caller = caller
    streams: Streams = parts.parts.setdefault("pages", Streams(most=PAGES_MAX, each=PAGES_EACH))
    reader = caller.person or caller.token or "nobody"
    if streams.full(reader):
        message = "Too many pages are open here; close some."
        raise ProblemError("too-many-tries", message)
    return EventStream(beats(parts, number_of(last_event_id)), streams, reader)


def number_of(told: str) -> int:
    """Returns the entry that a page says it has seen; 0 where it says none, or what is no number of an entry."""
    return int(told) if told.isascii() and told.isdigit() and len(told) <= SEEN_DIGITS else 0


async def beats(parts: Served, seen: int, beat_s: float = BEAT_S, lasts_s: float = LASTS_S) -> AsyncIterator[bytes]:
    """Yields `beat` events with the server's time in milliseconds, and `news` when there are later entries.

    Args:
        parts: the department as it is served.
        seen: the entry up to which the page was told before, 0 for none; where the record stands elsewhere meanwhile,
            it begins with `news`, also where that is earlier, as after a restored copy.
        beat_s: seconds between two events.
        lasts_s: seconds after which it ends.
    """
    watcher = watcher_of(parts)
    now = asyncio.get_running_loop().time
    ends = now() + lasts_s
    last = watcher.last
    yield RETRY + _event(parts, "beat" if seen in {0, last} else "news", last)
    while now() < ends and not parts.stopping.is_set():
        news = await watcher.wait(last, beat_s)
        if parts.stopping.is_set():
            return
        last = max(last, watcher.last)
        yield _event(parts, "news" if news else "beat", last)


def _event(parts: Served, name: str, number: int) -> bytes:
    at_ms = parts.department.clock.now().wall_us // 1000
    return event(b'{"at":%d}' % at_ms, number=number, name=name)
