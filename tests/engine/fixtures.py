"""The fixtures of the engine's tests: a department made once, and a copy of it for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.engine.floor import Floor, opened, prepare


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns the folder of the department that every test gets a copy of."""
    folder = tmp_path_factory.mktemp("prepared")
    prepare(folder)
    return folder


@pytest.fixture
def floor(prepared: Path, tmp_path: Path) -> Iterator[Floor]:
    """Yields a department at seven in the morning: parts at every stage, people, opened wipes."""
    here = opened(prepared, tmp_path)
    with here.department:
        yield here
