"""Whether a node lives and may be sent requests, and if not, why: words only, no paths, no addresses, no secrets.

A check says what it looked at and whether that is well. Those that are not advice keep the node from being ready.
"""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable
from typing import Annotated, Any, Final, Literal

import anyio
import anyio.to_thread
import structlog
from fastapi import APIRouter, Depends, Response
from pydantic import BaseModel, Field

from reprocess.batching import WAITING_MAX
from reprocess.department import Department
from reprocess.errors import ReprocessError
from reprocess.ledger.append import looking
from reprocess.ledger.deliveries import NEVER_US
from reprocess.ledger.open import Ledger
from reprocess.record.moment import Moment
from reprocess.service import who
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.who import Caller
from reprocess.shared_clock import STALE_US, Health, SharedClock
from reprocess.terms import SECOND_US

LOOK_S: Final = 1.0
"""How long what was found is given again: asking for it often costs nothing (our choice)."""
ANSWER_S: Final = 3.0
"""The database must answer within this (our choice)."""
UNRUNG_US: Final = 60 * SECOND_US
"""A grave reminder rings within 60 s (design section 6)."""
SILENT_US: Final = 90 * SECOND_US
"""A sweep says every 30 s that it is at work; three times that is silence."""
STEP_US: Final = 2 * SECOND_US
"""A wall clock that moved by more than this against the running clock was set by somebody (our choice)."""
QUEUE_SHARE: Final = 2
"""Of the calls that may wait, one in so many makes a queue that is long."""
BEHIND_MOST: Final = 10_000
"""Entries that a subscription may be behind before it is told (our choice)."""
MIB: Final = 1024 * 1024


class CheckOut(BaseModel):
    """Is one thing that was looked at."""

    name: Literal[
        "stopping", "database", "writing", "database-link", "disk", "reminders", "sweep", "clock", "queue", "deliveries"
    ]
    well: bool
    advice: bool = Field(default=False, description="Whether the node is ready all the same.")
    detail: str = Field(description="One sentence, empty where all is well.")


class ReadyOut(BaseModel):
    """Is whether requests may be sent to this node."""

    ready: bool
    reasons: list[str] = Field(default_factory=list, description="The names of the checks that keep it from it.")


class LiveOut(BaseModel):
    """Is that the node answers at all."""

    live: Literal[True] = True


class HealthOut(ReadyOut):
    """Is everything that was looked at."""

    checks: list[CheckOut]


def ledger_checks(department: Department, disk_free_mib: int) -> list[CheckOut]:
    """Returns what is found of the record, its disk and its reminders; called in a thread."""
    ledger = department.ledger
    now = department.clock.now()
    return [
        *_database(ledger),
        _disk(ledger, disk_free_mib),
        *_guarded("reminders", lambda: _reminders(ledger, now)),
        *_guarded("deliveries", lambda: [_deliveries(ledger)]),
    ]


def _database(ledger: Ledger) -> list[CheckOut]:
    name: Any = "database" if ledger.server is None else "database-link"
    return [
        *_guarded(name, lambda: [_answers(ledger, name)]),
        *_guarded("writing", lambda: [_writes(ledger)]),
    ]


def _guarded(name: Any, look: Callable[[], list[CheckOut]]) -> list[CheckOut]:
    """Returns what a look finds, or that it failed; of a failure only our own word."""
    try:
        return look()
    except ReprocessError as fault:
        return [CheckOut(name=name, well=False, detail=f"It cannot be used ({fault.code}).")]


def _answers(ledger: Ledger, name: Any) -> CheckOut:
    with looking(ledger) as read:
        read.feed.last()
    return CheckOut(name=name, well=True, detail="")


def _writes(ledger: Ledger) -> CheckOut:
    """Takes the place of the only writer for a moment and writes nothing."""
    with ledger.in_transaction():
        return CheckOut(name="writing", well=True, detail="")


def _disk(ledger: Ledger, least_mib: int) -> CheckOut:
    free = shutil.disk_usage(ledger.path.parent).free // MIB
    well = free >= least_mib
    return CheckOut(name="disk", well=well, detail="" if well else f"{free} MiB are free; {least_mib} are needed.")


def _reminders(ledger: Ledger, now: Moment) -> list[CheckOut]:
    with looking(ledger) as read:
        unrung, swept_us = read.dues.unrung(now.wall_us - UNRUNG_US), read.dues.swept_us()
    awake = swept_us is not None and now.wall_us - swept_us < SILENT_US
    return [
        CheckOut(
            name="reminders",
            well=not unrung,
            detail=f"{unrung} grave reminder(s) did not ring for more than a minute." if unrung else "",
        ),
        CheckOut(name="sweep", well=awake, detail="" if awake else "No bell looks for what is due."),
    ]


def _deliveries(ledger: Ledger) -> CheckOut:
    with looking(ledger) as read:
        last, told = read.feed.last(), read.deliveries.all()
    behind = sum(last - one.after > BEHIND_MOST for one in told if one.next_us < NEVER_US)
    detail = f"{behind} subscription(s) are more than {BEHIND_MOST} entries behind." if behind else ""
    return CheckOut(name="deliveries", well=not behind, advice=True, detail=detail)


def clock_check(began: Moment, now: Moment) -> CheckOut:
    """Returns whether wall clock and running clock went equally far since the node began."""
    step_us = abs((now.wall_us - began.wall_us) - (now.mono_us - began.mono_us))
    well = step_us <= STEP_US
    detail = "" if well else f"The clock was set by {step_us // SECOND_US} s while this node ran. Start it anew."
    return CheckOut(name="clock", well=well, advice=True, detail=detail)


def node_checks(parts: Served) -> list[CheckOut]:
    """Returns what is found of the node itself."""
    stopping = parts.stopping.is_set()
    waiting = parts.batcher.waiting
    long = waiting >= WAITING_MAX // QUEUE_SHARE
    return [
        CheckOut(name="stopping", well=not stopping, detail="This node stops." if stopping else ""),
        CheckOut(name="queue", well=not long, detail=f"{waiting} calls wait." if long else ""),
        *_clock(parts),
    ]


def _clock(parts: Served) -> list[CheckOut]:
    """Returns what is found of the clock: the shared one, where several nodes have one."""
    clock = parts.department.clock
    if isinstance(clock, SharedClock):
        return [shared_clock_check(clock.health())]
    began: Moment = parts.parts.setdefault("began", clock.now())
    return [clock_check(began, clock.now())]


def shared_clock_check(health: Health | None) -> CheckOut:
    """Returns whether this node knows the shared time, and whether its computer's own clock is far from it."""
    if health is None or health.age_us > STALE_US:
        return CheckOut(name="clock", well=False, detail="The database does not tell the time. Look at the database.")
    skew_s = health.skew_us // SECOND_US
    detail = f"This computer's clock is {skew_s} s off the database's. Set it right." if health.skewed else ""
    return CheckOut(name="clock", well=not health.skewed, advice=True, detail=detail)


async def checks(parts: Served) -> list[CheckOut]:
    """Returns everything that was looked at, the record at most once a second."""
    at = asyncio.get_running_loop().time()
    kept: tuple[float, list[CheckOut]] | None = parts.parts.get("health")
    if kept is None or at - kept[0] >= LOOK_S:
        kept = parts.parts["health"] = (at, await _looked(parts))
    return [*node_checks(parts), *kept[1]]


async def _looked(parts: Served) -> list[CheckOut]:
    """Returns what is found of the record within the time that it has; one look at a time, in a thread of its own."""
    limiter = parts.parts.setdefault("health-thread", anyio.CapacityLimiter(1))
    least = parts.settings.service.disk_free_mib
    try:
        with anyio.fail_after(ANSWER_S):
            return await anyio.to_thread.run_sync(
                ledger_checks, parts.department, least, abandon_on_cancel=True, limiter=limiter
            )
    except TimeoutError:
        return [CheckOut(name="database", well=False, detail=f"It does not answer within {ANSWER_S:g} s.")]
    except OSError as fault:
        _LOG.error("health-failed", cause=type(fault).__name__)
        return [CheckOut(name="disk", well=False, detail="It cannot be looked at.")]


def reasons(found: list[CheckOut]) -> list[str]:
    """Returns the names of what keeps a node from being ready."""
    return [one.name for one in found if not one.well and not one.advice]


_LOG = structlog.get_logger("reprocess.service")


def routes() -> APIRouter:
    """Returns the routes for balancers, supervisors of processes and people."""
    router = APIRouter(route_class=StrictRoute, tags=["node"])
    unready = {
        "description": "Not ready; `reasons` says why.",
        "model": ReadyOut,
        "content": {"application/json": {"example": {"ready": False, "reasons": ["stopping"]}}},
    }

    @router.get("/health/live", operation_id="live", summary="Whether the node answers at all")
    async def live() -> LiveOut:
        return LiveOut()

    @router.get(
        "/health/ready",
        operation_id="ready",
        summary="Whether requests may be sent to this node",
        responses={503: unready},
    )
    async def ready(response: Response, parts: Annotated[Served, Depends(served)]) -> ReadyOut:
        why = reasons(await checks(parts))
        response.status_code = 503 if why else 200
        return ReadyOut(ready=not why, reasons=why)

    @router.get(
        "/health",
        operation_id="read-health",
        summary="Everything that was looked at",
        responses=responses(*READING),
    )
    async def health(
        caller: Annotated[Caller, Depends(who.needs("read-metrics"))], parts: Annotated[Served, Depends(served)]
    ) -> HealthOut:
        del caller
        found = await checks(parts)
        why = reasons(found)
        return HealthOut(ready=not why, reasons=why, checks=found)

    return router
