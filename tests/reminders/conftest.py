"""A ward with three blowers."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.reminders.ward import Heard, Ward, found


@pytest.fixture
def ward(tmp_path: Path) -> Iterator[Ward]:
    made = found(tmp_path / "ward.db", 3)
    with made.department:
        yield made


@pytest.fixture
def heard() -> Heard:
    return Heard()
