"""A small department with two sites and nothing in it but people, a table to write, and the demo's day."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reprocess.department import Department, open_department
from tests.exchange.desk import Desk, founded
from tests.exchange.telling import told_day


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = founded(tmp_path / "desk.db")
    with made.department:
        yield made


@pytest.fixture
def table(tmp_path: Path) -> Callable[[str], Path]:
    def written(text: str) -> Path:
        path = tmp_path / f"table-{len(list(tmp_path.iterdir()))}.csv"
        path.write_bytes(text.encode())
        return path

    return written


@pytest.fixture(scope="session")
def a_day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_day(tmp_path_factory.mktemp("told") / "day.db")


@pytest.fixture
def a_department(a_day: Path) -> Iterator[Department]:
    with open_department(a_day) as opened:
        yield opened
