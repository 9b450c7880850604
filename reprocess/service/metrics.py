"""What this node did and what waits, as Prometheus reads it: counts and times only, with labels of a bounded number.

Counters belong to one application and are given to a registry of its own; nothing is kept in the module.
"""

from __future__ import annotations

import asyncio
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib.metadata import version
from ipaddress import ip_address
from typing import Annotated, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from prometheus_client import CollectorRegistry
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4, generate_latest
from prometheus_client.metrics_core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    HistogramMetricFamily,
    InfoMetricFamily,
    Metric,
)
from prometheus_client.registry import Collector
from starlette.requests import Request
from starlette.responses import Response

from reprocess.batching import Outcome
from reprocess.clock import Clock
from reprocess.ledger.figures import Figures, figures
from reprocess.rules.answer import Answer
from reprocess.service import who
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.who import Caller
from reprocess.station import Call, Desk

SECONDS: Final = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
"""Upper bounds of the times (the usual ones of Prometheus' client libraries)."""
SIZES: Final = (1, 2, 4, 8, 16, 32, 64)
"""Upper bounds of batches."""
METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})
RULES_MOST: Final = 1000
"""Rules that are counted; the catalogue has fewer."""
FIGURES_S: Final = 10.0
"""How long counts of the record are given again: whoever asks often costs nothing (our choice)."""


@dataclass(slots=True)
class Spread:
    """Is a histogram: how many values lay below each bound, and their sum."""

    bounds: Sequence[float]
    counts: list[int] = field(default_factory=list)
    total: float = 0.0

    def __post_init__(self) -> None:
        self.counts = [0] * (len(self.bounds) + 1)

    def add(self, value: float) -> None:
        """Counts one value."""
        self.counts[bisect_left(self.bounds, value)] += 1
        self.total += value

    def told(self) -> list[tuple[str, float]]:
        """Returns the cumulative counts by bound, as Prometheus wants them."""
        found: list[tuple[str, float]] = []
        so_far = 0
        for bound, count in zip((*self.bounds, float("inf")), tuple(self.counts), strict=True):
            so_far += count
            found.append(("+Inf" if bound == float("inf") else str(bound), so_far))
        return found


@dataclass(slots=True)
class Counts:
    """Is what one node counts of its own work.

    Attributes:
        answers: answers by (method, route's template, status).
        seconds: the time until an answer began, by (method, route's template).
        open: requests in work, streams among them.
        batches: sizes of transactions.
        refusals: how often each rule refused or held.
    """

    answers: dict[tuple[str, str, int], int] = field(default_factory=dict)
    seconds: dict[tuple[str, str], Spread] = field(default_factory=dict)
    open: int = 0
    batches: Spread = field(default_factory=lambda: Spread(SIZES))
    refusals: dict[str, int] = field(default_factory=dict)

    def answered(self, method: str, route: str, status: int, seconds: float) -> None:
        """Counts one answer."""
        method = method if method in METHODS else "other"
        key = (method, route, status)
        self.answers[key] = self.answers.get(key, 0) + 1
        self.seconds.setdefault((method, route), Spread(SECONDS)).add(seconds)

    def decided(self, outcomes: Sequence[Outcome]) -> None:
        """Counts one transaction and the rules that refused in it."""
        self.batches.add(len(outcomes))
        for one in outcomes:
            if isinstance(one, Answer):
                for reason in one.reasons:
                    if reason.rule in self.refusals or len(self.refusals) < RULES_MOST:
                        self.refusals[reason.rule] = self.refusals.get(reason.rule, 0) + 1


class CountedDesk:
    """Is a desk whose transactions are counted."""

    def __init__(self, desk: Desk, counts: Counts) -> None:
        self.clock: Clock = desk.clock
        self._desk = desk
        self._counts = counts

    def take_all(self, calls: Sequence[Call]) -> list[Outcome]:
        """Returns the outcome of each call."""
        outcomes = self._desk.take_all(calls)
        self._counts.decided(outcomes)
        return outcomes


class OfNode(Collector):
    """Gives everything that is counted here to a registry."""

    def __init__(self, counts: Counts, waiting: int, found: Figures) -> None:
        self._counts = counts
        self._waiting = waiting
        self._found = found

    def collect(self) -> Iterator[Metric]:
        """Yields the families one after the other."""
        yield from self._of_requests()
        yield from self._of_record()
        yield InfoMetricFamily("reprocess_build", "The program's version.", value={"version": version("reprocess")})

    def _of_requests(self) -> Iterator[Metric]:
        answers = CounterMetricFamily("reprocess_requests", "Requests answered.", labels=("method", "route", "status"))
        for (method, route, status), count in sorted(self._counts.answers.copy().items()):
            answers.add_metric((method, route, str(status)), count)
        yield answers
        seconds = HistogramMetricFamily(
            "reprocess_request_seconds", "Time until an answer began.", labels=("method", "route")
        )
        for labels, spread in sorted(self._counts.seconds.copy().items()):
            seconds.add_metric(labels, spread.told(), spread.total)
        yield seconds
        yield GaugeMetricFamily("reprocess_requests_open", "Requests in work, streams too.", self._counts.open)
        batches = HistogramMetricFamily("reprocess_batch_calls", "Calls that shared a transaction.", labels=())
        batches.add_metric((), self._counts.batches.told(), self._counts.batches.total)
        yield batches
        yield GaugeMetricFamily("reprocess_calls_waiting", "Calls that wait for a transaction.", self._waiting)
        refusals = CounterMetricFamily("reprocess_refusals", "How often a rule refused or held.", labels=("rule",))
        for rule, count in sorted(self._counts.refusals.copy().items()):
            refusals.add_metric((rule,), count)
        yield refusals

    def _of_record(self) -> Iterator[Metric]:
        found = self._found
        items = GaugeMetricFamily("reprocess_items", "Items by site and stage.", labels=("site", "stage"))
        holds = GaugeMetricFamily("reprocess_items_on_hold", "Items on hold by site.", labels=("site",))
        for site, stage, count, _ in found.items:
            items.add_metric((site, stage), count)
        for site in sorted({row[0] for row in found.items}):
            holds.add_metric((site,), sum(row[3] for row in found.items if row[0] == site))
        yield items
        yield holds
        overdue = GaugeMetricFamily(
            "reprocess_reminders_overdue", "Reminders that are due and did not ring.", labels=("severity",)
        )
        for severity, count in found.overdue:
            overdue.add_metric((str(severity),), count)
        yield overdue
        yield GaugeMetricFamily("reprocess_posts_waiting", "Reminders that wait for a channel outside.", found.posts)
        yield GaugeMetricFamily("reprocess_entries", "Entries of the record.", found.entries)
        yield GaugeMetricFamily("reprocess_subscriptions", "Subscriptions that go on.", len(found.behind))
        yield GaugeMetricFamily(
            "reprocess_subscription_entries_behind",
            "Entries that the slowest subscription was not handed yet.",
            max(found.behind, default=0),
        )


def text_of(counts: Counts, waiting: int, found: Figures) -> bytes:
    """Returns everything in Prometheus' text format, version 0.0.4."""
    registry = CollectorRegistry(auto_describe=False)
    registry.register(OfNode(counts, waiting, found))
    return bytes(generate_latest(registry))


def counts_of(parts: Served) -> Counts:
    """Returns what the node of an application counts."""
    counts: Counts = parts.parts.setdefault("counts", Counts())
    return counts


async def told(parts: Served) -> Response:
    """Returns the metrics of a node as a response; counts of the record may be some seconds old."""
    at = asyncio.get_running_loop().time()
    kept: tuple[float, Figures] | None = parts.parts.get("figures")
    if kept is None or at - kept[0] >= FIGURES_S:
        department = parts.department
        found = await anyio.to_thread.run_sync(figures, department.ledger, department.clock.now().wall_us)
        kept = parts.parts["figures"] = (at, found)
    text = text_of(counts_of(parts), parts.batcher.waiting, kept[1])
    return Response(text, media_type=CONTENT_TYPE_PLAIN_0_0_4)


def routes() -> APIRouter:
    """Returns the route for those who may read the metrics."""
    router = APIRouter(route_class=StrictRoute, tags=["node"])

    @router.get(
        "/metrics",
        operation_id="read-metrics",
        summary="Counts and times of this node, for Prometheus",
        response_class=Response,
        responses={
            200: {
                "description": "Prometheus' text format 0.0.4.",
                "content": {"text/plain": {"schema": {"type": "string"}}},
            },
            **responses(*READING),
        },
    )
    async def metrics(
        caller: Annotated[Caller, Depends(who.needs("read-metrics"))], parts: Annotated[Served, Depends(served)]
    ) -> Response:
        del caller
        return await told(parts)

    return router


def loopback_routes() -> APIRouter:
    """Returns `/metrics` for a collector on this computer; it is there only where the settings allow it."""
    router = APIRouter()

    @router.get("/metrics", include_in_schema=False)
    async def metrics(request: Request, parts: Annotated[Served, Depends(served)]) -> Response:
        if not (parts.settings.service.metrics_on_loopback and is_loopback(request)):
            message = "There is no such address."
            raise ProblemError("not-found", message)
        return await told(parts)

    return router


def is_loopback(request: Request) -> bool:
    """Tells whether a request comes from this computer itself and not through a proxy on it."""
    if request.client is None or "x-forwarded-for" in request.headers or "forwarded" in request.headers:
        return False
    try:
        return ip_address(request.client.host).is_loopback
    except ValueError:
        return False
