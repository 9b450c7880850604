"""The bell: APScheduler wakes a sweep every second. It holds no jobs of ours and no state that a crash could lose.

Tried on APScheduler 3.11.3: its waits follow the wall clock, so that a clock set back would silence it for as long,
and after a clock set forward it walks through every missed second. Hence a trigger that counts from now, and a
watch beside it that sets the job anew when no sweep was begun for a few periods.
"""

from __future__ import annotations

import logging
import math
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from threading import Event
from types import FrameType
from typing import Any, Final

import structlog
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.interval import IntervalTrigger

from reprocess.errors import ReprocessError
from reprocess.reminders.rounds import Deliver, Rang

EVERY_S: Final = 1.0
"""One sweep a second (design section 6)."""
SILENT_PERIODS: Final = 3
"""After so many periods without a sweep the job is set anew."""

Tick = Callable[[], object]


class Bell:
    """Is a bell that rings while it is open: it calls `tick` once at the start and then every period.

    A tick that fails is logged, by the code of its error and nothing else, and the next one comes all the same. Ticks
    never overlap.
    """

    def __init__(self, tick: Tick, every_s: float = EVERY_S) -> None:
        self.beats = 0
        self._tick = tick
        self._every_s = every_s
        # APScheduler's own messages would name jobs on the terminal; a failing tick is logged by us.
        quiet = logging.Logger("reprocess.bell", logging.CRITICAL)
        self._scheduler: Any = BackgroundScheduler(
            timezone="UTC",
            logger=quiet,
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
        )

    def __enter__(self) -> Bell:
        self._beat()
        self._scheduler.add_job(self._beat, self._trigger(), id="sweep")
        self._scheduler.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._scheduler.shutdown(wait=True)

    def ring_until(self, stop: Event, seconds: float = math.inf) -> None:
        """Waits until told to stop, or for so many seconds, and keeps watch over the scheduler meanwhile."""
        left = seconds
        heard, silent = self.beats, 0
        while left > 0 and not stop.wait(min(left, self._every_s)):
            left -= self._every_s
            heard, silent = (self.beats, 0) if self.beats != heard else (heard, silent + 1)
            if silent >= SILENT_PERIODS:
                silent = 0
                self._scheduler.reschedule_job("sweep", trigger=self._trigger())

    def _trigger(self) -> _FromNow:
        return _FromNow(seconds=self._every_s, timezone="UTC")

    def _beat(self) -> None:
        self.beats += 1
        try:
            self._tick()
        except Exception as fault:  # the ring of the bell is one of the two edges that may catch everything
            log("sweep-failed", fault)


class _FromNow(IntervalTrigger):  # type: ignore[misc]  # APScheduler 3 has no types
    """Is an interval that is counted from now, not from the last time, so that it never catches up."""

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """Returns one period from now."""
        del previous_fire_time
        following: datetime = super().get_next_fire_time(now, now)
        return following


def guarded(deliver: Deliver) -> Deliver:
    """Returns a channel whose failure keeps back one reminder only; it is tried again after its claim has lapsed."""

    def deliver_or_log(rang: Rang) -> bool:
        try:
            return deliver(rang)
        except Exception as fault:  # the ring of the bell is one of the two edges that may catch everything
            log("delivery-failed", fault, rule=rang.due.rule)
            return False

    return deliver_or_log


def log(event: str, fault: Exception, **fields: str) -> None:
    """Writes one line to standard error: the event, the code of the error, no personal data."""
    code = fault.code if isinstance(fault, ReprocessError) else type(fault).__name__
    logger = structlog.wrap_logger(
        structlog.PrintLogger(sys.stderr),
        processors=[structlog.processors.TimeStamper(fmt="iso", utc=True), structlog.processors.JSONRenderer()],
    )
    logger.error(event, code=code, **fields)


@contextmanager
def stopping() -> Iterator[Event]:
    """Yields an event that is set when the process is asked to end (SIGTERM, SIGINT); the old handlers come back."""
    stop = Event()

    def ask_to_stop(number: int, frame: FrameType | None) -> None:
        del number, frame
        stop.set()

    before = {number: signal.signal(number, ask_to_stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
