"""Server-sent events: written one after the other, to whoever reads them in time; a slow reader is cut off.

Source: WHATWG HTML, section 9.2 "Server-sent events" (https://html.spec.whatwg.org/multipage/server-sent-events.html).
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncIterator, Iterator
from contextlib import aclosing, contextmanager
from dataclasses import dataclass, field
from typing import Final

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

SEND_S: Final = 10.0
"""How long a reader may take to make room for one event (our choice); the server's own buffer is bounded."""
STREAMS_MAX: Final = 200
"""Streams that one node keeps open at a time (our choice)."""
STREAMS_EACH: Final = 50
"""Of those, so many of one reader (our choice: the screens of a department may share a token)."""


@dataclass(slots=True)
class Streams:
    """Counts the streams that a node keeps open, by reader.

    Attributes:
        readers: how many each reader keeps open.
        most: how many there are at a time; each: of those, so many of one reader.
    """

    readers: Counter[str] = field(default_factory=Counter)
    most: int = STREAMS_MAX
    each: int = STREAMS_EACH

    @property
    def open(self) -> int:
        """Returns how many are open."""
        return self.readers.total()

    def full(self, reader: str) -> bool:
        """Tells whether no further one is opened for a reader."""
        return self.open >= self.most or self.readers[reader] >= self.each

    @contextmanager
    def opened(self, reader: str) -> Iterator[None]:
        """Counts one while it is open."""
        self.readers[reader] += 1
        try:
            yield
        finally:
            self.readers -= Counter((reader,))  # a reader without any is forgotten


def event(data: bytes, *, number: int, name: str) -> bytes:
    """Returns one event; its number is what a reader sends as `Last-Event-ID` when it comes back."""
    return b"id: %d\nevent: %s\ndata: %s\n\n" % (number, name.encode(), data)


def passed(number: int) -> bytes:
    """Returns what moves a reader on past entries that are not for it: an id without data is no event to it."""
    return b"id: %d\n\n" % number


HEARTBEAT: Final = b": nothing new\n\n"


class EventStream(Response):
    """Is a response that stays open and hands over events as they come."""

    media_type = "text/event-stream"

    def __init__(self, events: AsyncIterator[bytes], streams: Streams, reader: str, send_s: float = SEND_S) -> None:
        super().__init__(headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
        del self.headers["content-length"]
        self._events = events
        self._streams = streams
        self._reader = reader
        self._send_s = send_s

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Writes until the events end, the reader goes, or it does not keep up."""
        del scope
        with self._streams.opened(self._reader):
            writing = asyncio.ensure_future(self._write(send))
            leaving = asyncio.ensure_future(_gone(receive))
            try:
                await asyncio.wait({writing, leaving}, return_when=asyncio.FIRST_COMPLETED)
            finally:
                for task in (writing, leaving):
                    task.cancel()
                await asyncio.gather(writing, leaving, return_exceptions=True)

    async def _write(self, send: Send) -> None:
        await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
        async with aclosing(self._events) as events:  # type: ignore[type-var]
            async for chunk in events:
                try:
                    async with asyncio.timeout(self._send_s):
                        await send({"type": "http.response.body", "body": chunk, "more_body": True})
                except TimeoutError:
                    return
        await send({"type": "http.response.body", "body": b"", "more_body": False})


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
