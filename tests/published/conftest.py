"""The fixture that notes a row of memory, and the hook that prints it."""

from collections.abc import Callable

import pytest

from tests.published.memory import PROPERTY, FromMemory, pytest_terminal_summary
from tests.published.shipped import Shipped
from tests.published.source import Published

__all__ = ["from_memory", "pytest_terminal_summary"]


@pytest.fixture(scope="session")
def shipped() -> Shipped:
    """Returns every workflow, agent and configuration that the project ships."""
    return Shipped.read()


@pytest.fixture
def from_memory(record_property: Callable[[str, object], None]) -> FromMemory:
    """Returns what notes our own value beside a row of memory, instead of asserting it."""

    def note(row: Published, *, remembered: object, ours: object) -> None:
        assert row.evidence == "memory"
        line = f"{row.id} {row.statement}: remembered {remembered}, ours {ours} {row.unit}"
        record_property(PROPERTY, line)

    return note
