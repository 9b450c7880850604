"""What we do: advances through the whole stack, verification, checking all workflows, starting the command line."""

from __future__ import annotations

import subprocess
import sys
import time
import tracemalloc
from pathlib import Path

from reprocess import found_department
from reprocess.clock import StoryClock
from reprocess.commandline.checking import checked, gathered
from reprocess.department import Department
from reprocess.engine.enrolling import Commission
from reprocess.engine.request import DoStep
from reprocess.ledger.address import Server
from reprocess.ledger.verify import verify
from reprocess.station import Call

START_US = 1_772_700_000_000_000
FOUNDING = """network: Bench
sites: [{site: LMG, title: Larkmoor General, zone: Europe/London}]
stations: [{station: D1, title: D1, site: LMG, side: any}]
people:
  - person: P-1
    name: One
    roles: [supervisor]
    badges: [B-1]
    competencies: [{competency: take-apart, since: "2026-01-01", until: "2030-01-01", assessor: Two}]
  - {person: P-2, name: Two, roles: [supervisor], badges: [B-2]}
files: {published_by: P-1, approved_by: P-2}
"""
GOOD = dict.fromkeys(("filters-off", "battery-off", "tube-off", "outlet-capped"), True)


def department(place: Path | Server, items: int) -> Department:
    """Returns a department with that many blowers, in a folder or on a server."""
    at = place / f"ours-{items}.db" if isinstance(place, Path) else place
    made = found_department(at, FOUNDING, clock=StoryClock(START_US))
    bench = made.station("D1", badge="B-1")
    for number in range(items):
        bench.enrol(Commission(f"BLW-{number}", "blower", "LB-3"))
    return made


def call(number: int) -> Call:
    return Call(DoStep(f"BLW-{number}", "take-apart", GOOD, {}, {"plugs": 3}), "D1", "B-1", None, f"k-{number}")


def _later(made: Department) -> None:
    """Lets half a minute pass, as between two scans of one person; what happened lately is part of every judgement."""
    if isinstance(made.clock, StoryClock):
        made.clock.push(30)


def advance_rate(made: Department, items: int) -> float:
    """Returns accepted durable advances a second, one transaction each: rules, chain, seal, projections, dues."""
    began = time.perf_counter()
    for number in range(items):
        _later(made)
        answer = made.desk.take(call(number))
        if not answer.accepted:
            raise RuntimeError(answer)
    return items / (time.perf_counter() - began)


def shared_rate(made: Department, items: int, group: int) -> float:
    """Returns accepted durable advances a second when that many share one transaction."""
    began = time.perf_counter()
    for first in range(0, items, group):
        _later(made)
        made.desk.take_all([call(number) for number in range(first, min(first + group, items))])
    return items / (time.perf_counter() - began)


def verify_rate(made: Department, *, full: bool) -> tuple[float, int]:
    """Returns (entries verified a second, how many)."""
    began = time.perf_counter()
    report = verify(made.ledger, full=full)
    if not report.sound:
        raise RuntimeError(report)
    return report.entries / (time.perf_counter() - began), report.entries


def check_s() -> float:
    """Returns seconds to read and prove every shipped file."""
    began = time.perf_counter()
    checked(gathered(()))
    return time.perf_counter() - began


def help_s() -> float:
    """Returns seconds of `reprocess --help` in a fresh process."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "reprocess", "--help"], check=True, capture_output=True)
    return time.perf_counter() - began


def bytes_an_item(made: Department, items: int) -> float:
    """Returns bytes of memory kept for each item after all of them were worked on."""
    tracemalloc.start()
    made.desk.take(Call(DoStep("BLW-0", "clean"), "D1", "B-1", None, "warm"))
    before = tracemalloc.get_traced_memory()[0]
    for number in range(items):
        made.desk.take(Call(DoStep(f"BLW-{number}", "clean"), "D1", "B-1", None, f"m-{number}"))
    after = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    return (after - before) / items
