"""The small department after its day, as files or databases that each test copies and may spoil.

A test runs on SQLite; one that is marked with `BOTH` runs on a real PostgreSQL too (tests/postgres.py), from the same
fixtures: `place`, `department`, `morning`. `path` is for what only a file has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.commandline import main
from reprocess.department import Department
from reprocess.gathering import Library
from reprocess.ledger.address import Server
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.day import DAY, play
from tests.postgres import TestServer, postgres_address, postgres_department, postgres_server

FILE = "department.db"
EVENING_US = small.START_US + 86_400_000_000

BOTH = pytest.mark.parametrize("database", ["sqlite", "postgres"], indirect=True)
"""Runs a test on SQLite and on PostgreSQL."""

Command = Callable[..., tuple[int, str, str]]
"""Runs a command of the command line in this process: its exit code, what it printed, and what it complained of."""


@pytest.fixture(scope="session")
def day_over(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns a department whose day is over; never to be changed, only copied."""
    path = tmp_path_factory.mktemp("over") / FILE
    clock = StoryClock(small.START_US)
    with small.found(path, clock) as department:
        play(department, clock)
    return path


@pytest.fixture(scope="session")
def library() -> Library:
    """Returns what was read of the files so far; they are kept by digest."""
    return Library()


@pytest.fixture
def database(request: pytest.FixtureRequest) -> str:
    """Returns the database that a test runs on."""
    return str(getattr(request, "param", "sqlite"))


@pytest.fixture
def place(database: str, request: pytest.FixtureRequest) -> Iterator[Path | Server]:
    """Yields a copy of the department whose day is over."""
    if database == "sqlite":
        over = request.getfixturevalue("day_over")
        yield copied(over, request.getfixturevalue("tmp_path") / "copy")
        return
    server: TestServer = request.getfixturevalue("postgres_server")
    if "day" not in server.founded:
        clock = StoryClock(small.START_US)
        first = server.place()
        with small.found(first, clock) as founded:
            play(founded, clock)
        server.founded["day"] = first
    there = server.place(template="day")
    yield there
    server.drop(there)


@pytest.fixture
def path(place: Path | Server) -> Path:
    """Returns a copy of the department whose day is over, as a file."""
    assert isinstance(place, Path)
    return place


@pytest.fixture
def evening() -> StoryClock:
    """Returns a clock after the day, whose ids were not given before."""
    return StoryClock(EVENING_US, count=100_000)


@pytest.fixture
def department(place: Path | Server, evening: StoryClock, library: Library) -> Iterator[Department]:
    """Yields the department after its day."""
    with small.opened(place, evening, library=library) as opened:
        yield opened


@pytest.fixture
def morning(database: str, request: pytest.FixtureRequest) -> Iterator[Department]:
    """Yields the small department before its day, with its clock at the start of it."""
    if database == "postgres":
        yield request.getfixturevalue("postgres_department")
        return
    with small.found(request.getfixturevalue("tmp_path") / FILE, StoryClock(small.START_US)) as founded:
        yield founded


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Returns what runs a command as if it had been typed."""

    def run(*words: str | Path | Server) -> tuple[int, str, str]:
        for word in words:
            if isinstance(word, Server):
                monkeypatch.setenv("REPROCESS_KEY_FILE", str(word.key_file))
                monkeypatch.setenv("REPROCESS_OWNER", word.owner or "")
        typed = [word.address if isinstance(word, Server) else str(word) for word in words]
        monkeypatch.setattr("sys.argv", ["reprocess", *typed])
        capsys.readouterr()
        code = main.run()
        told = capsys.readouterr()
        assert "Traceback" not in told.out + told.err
        return code, told.out, told.err

    return run


__all__ = ["DAY", "FILE", "postgres_address", "postgres_department", "postgres_server"]
