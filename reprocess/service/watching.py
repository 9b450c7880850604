"""One watcher of the record for each node; it wakes whoever waits for an entry: no thread and no query each."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Final

import anyio.to_thread

LOOKS_EVERY_S: Final = 0.5
"""How often the record is looked at while somebody waits (our choice): what other nodes write is seen then."""


class Watcher:
    """Knows the number of the latest entry and wakes whoever waits for a later one.

    Args:
        last: reads the number of the latest entry; called in a thread.
        stopping: set when the node stops; whoever waits is woken then.
        every_s: how often the record is looked at while somebody waits.
    """

    def __init__(self, last: Callable[[], int], stopping: asyncio.Event, every_s: float = LOOKS_EVERY_S) -> None:
        self._read = last
        self._stopping = stopping
        self._every_s = every_s
        self._last = 0
        self._waiting = 0
        self._news = asyncio.Event()
        self._nudged = asyncio.Event()
        self._looking: asyncio.Task[None] | None = None
        self._loop: asyncio.AbstractEventLoop | None = None

    @property
    def waiting(self) -> int:
        """Returns how many wait."""
        return self._waiting

    @property
    def last(self) -> int:
        """Returns the number of the latest entry that was seen."""
        return self._last

    async def wait(self, after: int, seconds: float) -> bool:
        """Waits until an entry follows `after`, the time is over or the node stops; tells whether one does."""
        self._waiting += 1
        self._begin()
        try:
            with suppress(TimeoutError):
                async with asyncio.timeout(seconds):
                    while self._last <= after and not self._stopping.is_set():
                        await self._news.wait()
        finally:
            self._waiting -= 1
        return self._last > after

    def nudge(self) -> None:
        """Lets the record be looked at now, since something was written here; any thread may call it."""
        if self._loop is not None and self._waiting:
            self._loop.call_soon_threadsafe(self._nudged.set)

    async def look(self) -> None:
        """Reads the number of the latest entry and wakes whoever waits for it."""
        last = await anyio.to_thread.run_sync(self._read)
        if last > self._last or self._stopping.is_set():
            self._last = max(last, self._last)
            news, self._news = self._news, asyncio.Event()
            news.set()

    def _begin(self) -> None:
        """Looks from now on, as long as somebody waits."""
        if self._looking is None or self._looking.done():
            self._loop = asyncio.get_running_loop()
            self._looking = self._loop.create_task(self._look_on())

    async def _look_on(self) -> None:
        while self._waiting:
            self._nudged.clear()
            await self.look()
            if self._stopping.is_set():
                return
            await _first_of(self._every_s, self._nudged, self._stopping)


async def _first_of(seconds: float, *events: asyncio.Event) -> None:
    """Waits for the first of several events, or until the time is over."""
    tasks = [asyncio.ensure_future(one.wait()) for one in events]
    try:
        await asyncio.wait(tasks, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for task in tasks:
            task.cancel()
