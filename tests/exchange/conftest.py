"""A small department with two sites and nothing in it but people, and a table to write."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.exchange.desk import Desk, founded


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
