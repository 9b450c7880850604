"""Calls that arrive at the same time share one transaction and one write to the disk, each judged on its own.

One thread takes whatever waits, as many as a batch holds, and hands each caller its own outcome. A caller that
comes alone waits for nobody. Where several came together, they are given a moment to come together again, since each
asks anew as soon as it is answered: else they would fall into two halves that wait for each other.
"""

from __future__ import annotations

import asyncio
import threading
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import replace
from typing import Final, Protocol

from reprocess.clock import Clock
from reprocess.errors import InvariantError, LedgerBusyError, LedgerFullError, ReprocessError
from reprocess.rules.answer import Answer
from reprocess.station import Call

BATCH_MAX: Final = 64
"""Calls in one transaction (measured: beyond it the first of them waits longer and the disk saves nothing more)."""
WAITING_MAX: Final = 1024
"""Calls that may wait; whoever comes then is told to come again, so that memory stays bounded (I19)."""

MOMENT_S: Final = 0.001
"""How long a batch waits for as many calls as the one before had (our choice: less than a commit takes)."""

Outcome = Answer | ReprocessError
Coming = Future[Answer] | asyncio.Future[Answer]


class Takes(Protocol):
    """Is what takes several calls in one transaction, as a `Desk` does."""

    @property
    def clock(self) -> Clock:
        """Returns the clocks by which calls arrive."""
        ...

    def take_all(self, calls: Sequence[Call]) -> list[Outcome]:
        """Returns the outcome of each call."""
        ...


class Batcher:
    """Takes calls of many threads for one desk. Close it when done: what waits is still taken.

    Args:
        desk: what takes them.
        most: calls in one transaction at most.
        written: told after each batch that something may have been written; it must not wait.
    """

    def __init__(self, desk: Takes, most: int = BATCH_MAX, written: Callable[[], None] = lambda: None) -> None:
        self._desk = desk
        self._written = written
        self._most = most
        self._waiting: deque[tuple[Call, Coming]] = deque()
        self._changed = threading.Condition()
        self._wanted = 0
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="batches", daemon=True)
        self._thread.start()

    def submit(self, call: Call) -> Future[Answer]:
        """Returns the coming answer to one call of a thread; it carries an error where the call has none.

        Raises:
            LedgerBusyError: too many calls wait, or this node is stopping; nothing was recorded.
        """
        own: Future[Answer] = Future()
        self._put(call, own)
        self._wake()
        return own

    async def take(self, call: Call) -> Answer:
        """Returns the answer to one call of a task; whoever goes away meanwhile takes nothing back.

        Raises:
            ReprocessError: as `submit` does, or as the call's own outcome.
        """
        loop = asyncio.get_running_loop()
        own: asyncio.Future[Answer] = loop.create_future()
        self._put(call, own)
        loop.call_soon(self._wake)  # after the tasks that are ready now, which may bring calls too
        return await asyncio.shield(own)

    def _put(self, call: Call, own: Coming) -> None:
        arrived = replace(call, arrived=call.arrived or self._desk.clock.now())
        with self._changed:
            if self._closed or len(self._waiting) >= WAITING_MAX:
                message = "This node stops." if self._closed else "Too many requests wait."
                message += " Nothing was recorded. Try again."
                raise LedgerBusyError(message)
            self._waiting.append((arrived, own))

    def _wake(self) -> None:
        if 0 < self._wanted <= len(self._waiting):  # one that is at work looks by itself before it waits
            with self._changed:
                self._changed.notify()

    @property
    def waiting(self) -> int:
        """Returns how many calls wait now."""
        return len(self._waiting)

    def close(self) -> None:
        """Takes what waits, then ends."""
        with self._changed:
            self._closed = True
            self._changed.notify()
        self._thread.join()

    def _run(self) -> None:
        batch: list[tuple[Call, Coming]] = []
        while batch := self._next(len(batch)):
            kept = [(call, own) for call, own in batch if _is_wanted(own)]
            tasks: dict[asyncio.AbstractEventLoop, list[tuple[Coming, Outcome]]] = {}
            for (_, own), outcome in zip(kept, self._outcomes([call for call, _ in kept]), strict=True):
                if isinstance(own, Future):
                    _settle(own, outcome)
                else:
                    tasks.setdefault(own.get_loop(), []).append((own, outcome))
            for loop, settled in tasks.items():  # each loop is woken once for a whole batch
                with suppress(RuntimeError):  # it ended meanwhile, and with it whoever asked
                    loop.call_soon_threadsafe(_settle_all, settled)
            with suppress(Exception):  # whoever is only told must not end the thread that writes
                self._written()

    def _next(self, before: int) -> list[tuple[Call, Coming]]:
        """Returns what is taken next, none at the end; after a batch of several it waits a moment for as many."""
        with self._changed:
            self._wait(1)
            if before > 1:
                self._wait(before, MOMENT_S)
            return [self._waiting.popleft() for _ in range(min(self._most, len(self._waiting)))]

    def _wait(self, wanted: int, most_s: float | None = None) -> None:
        """Waits until so many calls wait, or it is to end."""
        self._wanted = wanted
        self._changed.wait_for(lambda: len(self._waiting) >= wanted or self._closed, most_s)
        self._wanted = 0

    def _outcomes(self, calls: list[Call]) -> list[Outcome]:
        """Returns the outcome of each call; one that breaks its batch is taken apart from the others."""
        if not calls:
            return []
        try:
            return self._desk.take_all(calls)
        except (LedgerBusyError, LedgerFullError) as fault:
            return [fault for _ in calls]
        except ReprocessError as fault:
            if len(calls) == 1:
                return [fault]
        except Exception as fault:
            if len(calls) == 1:
                broken = InvariantError("This could not be decided; nothing was recorded.")
                broken.__cause__ = fault
                return [broken]
        return [one for call in calls for one in self._outcomes([call])]


def _is_wanted(own: Coming) -> bool:
    """Tells whether a call is still to be taken; a thread's that was cancelled before is not."""
    return own.set_running_or_notify_cancel() if isinstance(own, Future) else True


def _settle_all(settled: list[tuple[Coming, Outcome]]) -> None:
    for own, outcome in settled:
        if not own.done():
            _settle(own, outcome)


def _settle(own: Coming, outcome: Outcome) -> None:
    if isinstance(outcome, ReprocessError):
        own.set_exception(outcome)
    else:
        own.set_result(outcome)
