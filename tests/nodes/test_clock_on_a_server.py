"""The shared clock against a real server, whose clock is read beside this computer's own."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import pytest

from reprocess.clock import SystemClock
from reprocess.department import Department, Server, open_department
from reprocess.errors import LedgerBusyError
from reprocess.ledger.beacons import Beacons
from reprocess.record.moment import Moment
from reprocess.shared_clock import SharedClock, keeping_time
from tests.ledger import small
from tests.postgres import TestServer


class Elsewhere(SystemClock):
    """Is the clock of a computer of another name."""

    def __init__(self, name: str) -> None:
        self.name = name

    def now(self) -> Moment:
        return replace(super().now(), node=self.name)


def test_a_department_on_a_server_tells_the_databases_time(postgres_department: Department) -> None:
    server = postgres_department.ledger.server
    assert server is not None
    one, two = (SharedClock(Beacons(postgres_department.ledger), Elsewhere(name)) for name in ("one", "two"))
    with keeping_time(one):
        begun = one.now()
        joined = two.now()
    assert begun.boot == joined.boot
    with postgres_department.ledger.cursor() as cursor:
        told = cursor.execute("SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint").fetchone()[0]
    assert abs(told - two.now().wall_us) < 100_000
    assert {one.node for one in Beacons(postgres_department.ledger).all()} == {"one", "two"}


def test_many_nodes_that_open_an_epoch_together_agree_on_one(postgres_department: Department) -> None:
    ledger = postgres_department.ledger
    clocks = [SharedClock(Beacons(ledger), Elsewhere(f"computer-{number}")) for number in range(6)]
    with ThreadPoolExecutor(6) as pool, ExitStack() as nodes:
        for clock in clocks:
            nodes.enter_context(keeping_time(clock))
        list(pool.map(lambda clock: clock.now(), clocks))
        boots = set(pool.map(lambda clock: clock.now().boot, clocks))
    assert len(boots) == 1


def test_an_opened_department_works_by_it(postgres_server: TestServer, tmp_path: Path) -> None:
    place = postgres_server.place()
    with small.found(place, None) as founded:
        assert founded.last_feed() > 0
    with open_department(place) as opened:
        assert isinstance(opened.clock, SharedClock)
        bench = opened.station("LMG-1", badge="B-A")
        assert bench.log("S-1", "clean").accepted
        entry = opened.history("item:S-1")[-1]
        assert entry.envelope.moment.shared
    postgres_server.drop(place)


def test_a_clock_whose_server_is_gone_says_so(postgres_server: TestServer) -> None:
    place = postgres_server.place()
    with small.found(place, None) as founded:
        clock = SharedClock(Beacons(founded.ledger), SystemClock())
        postgres_server.drop(place)
        with pytest.raises(LedgerBusyError):
            clock.now()
    assert isinstance(place, Server)
