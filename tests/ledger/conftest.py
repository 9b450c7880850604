"""The small department after its day, as files that each test copies and may spoil."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.commandline import main
from reprocess.department import Department
from reprocess.gathering import Library
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.day import DAY, play

FILE = "department.db"
EVENING_US = small.START_US + 86_400_000_000

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
def path(day_over: Path, tmp_path: Path) -> Path:
    """Returns a copy of the department whose day is over."""
    return copied(day_over, tmp_path / "copy")


@pytest.fixture
def evening() -> StoryClock:
    """Returns a clock after the day, whose ids were not given before."""
    return StoryClock(EVENING_US, count=100_000)


@pytest.fixture
def department(path: Path, evening: StoryClock, library: Library) -> Iterator[Department]:
    """Yields the department after its day."""
    with small.opened(path, evening, library=library) as opened:
        yield opened


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Department]:
    """Yields the small department before its day, with its clock at the start of it."""
    with small.found(tmp_path / FILE, StoryClock(small.START_US)) as founded:
        yield founded


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Returns what runs a command as if it had been typed."""

    def run(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["reprocess", *map(str, words)])
        capsys.readouterr()
        code = main.run()
        told = capsys.readouterr()
        assert "Traceback" not in told.out + told.err
        return code, told.out, told.err

    return run


__all__ = ["DAY", "FILE"]
