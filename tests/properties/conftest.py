"""The department that every script starts from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from tests.properties.template import Template, founded

SHARED_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of its own is made in it


@pytest.fixture(scope="session")
def larkmoor() -> Iterator[Template]:
    """Yields a small Larkmoor, founded once; in memory where the computer has a folder in memory."""
    with TemporaryDirectory(dir=SHARED_MEMORY if SHARED_MEMORY.is_dir() else None) as folder:
        yield founded(Path(folder) / "larkmoor.db")
