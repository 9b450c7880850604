"""Scans over HTTP at a node of its own: many connections as fast as they go, and twenty stations once a second."""

from __future__ import annotations

import asyncio
import json
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.bench import raw

BODY = json.dumps(
    {
        "step": "take-apart",
        "checks": dict.fromkeys(("filters-off", "battery-off", "tube-off", "outlet-capped"), True),
        "counts": {"plugs": 3},
    }
).encode()
PEOPLE = 64
SCANS = 2560
RUNS = 3
STATIONS = 20
SECONDS = 30


@dataclass(frozen=True, slots=True)
class Node:
    """Is a node that serves: its port, the sessions of people P-1, P-2, ..., and its process."""

    port: int
    sessions: list[str]
    process: int


@dataclass(frozen=True, slots=True)
class Took:
    """Is how long scans took: all of them together, and each one, shortest first; in seconds."""

    whole_s: float
    each_s: list[float]

    def rate(self) -> float:
        """Returns scans a second."""
        return len(self.each_s) / self.whole_s

    def ms(self, share: float) -> float:
        """Returns the milliseconds that this share of the scans took at most."""
        return 1000 * self.each_s[min(len(self.each_s) - 1, int(len(self.each_s) * share))]


@contextmanager
def node(folder: Path, items: int, *more: str) -> Iterator[Node]:
    """Yields a node in a process of its own, which ends with the block."""
    command = [sys.executable, "-m", "tests.bench.node", str(folder), str(PEOPLE), str(items), *more]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    if process.stdin is None or process.stdout is None:
        raise RuntimeError(command)
    try:
        told = json.loads(process.stdout.readline())
        yield Node(told["port"], told["sessions"], process.pid)
    finally:
        process.stdin.close()
        process.wait(60)
        process.stdout.close()


def at_full_speed(at: Node, items: int, connections: int) -> Took:
    """Returns how long that many scans take over that many connections, each one after the other."""
    return asyncio.run(_all(at, items, connections, every_s=0.0))


def once_a_second(at: Node, items: int, stations: int) -> Took:
    """Returns how long scans take when that many stations scan once a second, not all at one instant."""
    return asyncio.run(_all(at, items, stations, every_s=1.0))


async def _all(at: Node, items: int, connections: int, every_s: float) -> Took:
    each: list[float] = []
    began = time.perf_counter()
    turns = (
        _station(at, number, range(number, items, connections), each, (every_s, every_s * number / connections))
        for number in range(connections)
    )
    await asyncio.gather(*turns)
    return Took(time.perf_counter() - began, sorted(each))


async def _station(at: Node, number: int, items: range, each: list[float], beat: tuple[float, float]) -> None:
    every_s, first_s = beat
    reader, writer = await asyncio.open_connection("127.0.0.1", at.port)
    for turn, item in enumerate(items):
        if every_s:
            await asyncio.sleep(max(0.0, first_s if not turn else every_s))
        began = time.perf_counter()
        writer.write(_request(at, number, item))
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length:")[1].split(b"\r\n")[0])
        body = await reader.readexactly(length)
        each.append(time.perf_counter() - began)
        if not head.startswith(b"HTTP/1.1 200"):
            raise RuntimeError(head + body)
    writer.close()


def _request(at: Node, number: int, item: int) -> bytes:
    head = (
        f"POST /v1/items/BLW-{item}/steps HTTP/1.1\r\nHost: 127.0.0.1:{at.port}\r\nContent-Type: application/json\r\n"
        f"Authorization: Bearer {at.sessions[number]}\r\nIdempotency-Key: k-{item}\r\n"
        f"Content-Length: {len(BODY)}\r\n\r\n"
    )
    return head.encode() + BODY


def figures(place: Path) -> Iterator[str]:
    """Yields the figures as lines: medians of paired runs at full speed, then half a minute at twenty stations."""
    ratios, rates, slow, floors = [], [], [], []
    for number in range(RUNS):
        folder = place / f"scanning-{number}"
        folder.mkdir()
        limit = raw.raw_step_rate(folder)
        with node(folder, SCANS) as at:
            took = at_full_speed(at, SCANS, PEOPLE)
        rates.append(took.rate())
        slow.append(took.ms(0.99))
        ratios.append(took.rate() / limit)
        only = place / f"validating-{number}"
        only.mkdir()
        with node(only, 1, "validate") as at:
            floors.append(took.rate() / at_full_speed(at, SCANS, PEOPLE).rate())
    rate, share, late = (statistics.median(one) for one in (rates, ratios, slow))
    yield f"scans over {PEOPLE} connections: {rate:,.0f} a second, p99 {late:.0f} ms, of raw {share:.2f} (aim 0.50)"
    yield f"the same, of this server when it only reads, checks and answers: {statistics.median(floors):.2f}"
    folder = place / "stations"
    folder.mkdir()
    with node(folder, STATIONS * SECONDS) as at:
        took = once_a_second(at, STATIONS * SECONDS, STATIONS)
    yield (
        f"{STATIONS} stations, each once a second: p50 {took.ms(0.5):.1f} ms, p95 {took.ms(0.95):.1f} ms,"
        f" p99 {took.ms(0.99):.1f} ms (aim 50)"
    )
