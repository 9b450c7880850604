"""The fixtures that compare and note a published value, and what is printed of them."""

from collections.abc import Callable

import pytest

from tests.published import memory, report
from tests.published.memory import FromMemory
from tests.published.report import Agrees, Differs, Note, Number
from tests.published.shipped import Shipped
from tests.published.source import Published

Noting = Callable[[str, object], None]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the whole table if it was asked for, else the rows that are from memory."""
    if terminalreporter.config.getoption("--published"):
        report.print_report(terminalreporter)
    else:
        memory.print_rows(terminalreporter)


@pytest.fixture(scope="session")
def shipped() -> Shipped:
    """Returns every workflow, agent and configuration that the project ships."""
    return Shipped.read()


@pytest.fixture
def agrees(record_property: Noting) -> Agrees:
    """Returns what asserts that ours is theirs, and notes the pair first."""

    def check(row: Published, *, theirs: object, ours: object, within: Number | None = None) -> None:
        record_property(report.PROPERTY, Note.of(row, theirs, ours, "agrees").text)
        report.assert_agrees(row, theirs, ours, within)

    return check


@pytest.fixture
def differs(record_property: Noting) -> Differs:
    """Returns what asserts that ours is not a known error in print, and notes the pair first."""

    def check(row: Published, theirs: object, ours: object, within: Number | None = None) -> None:
        record_property(report.PROPERTY, Note.of(row, theirs, ours, "differs").text)
        report.assert_differs(row, theirs, ours, within)

    return check


@pytest.fixture
def from_memory(record_property: Noting) -> FromMemory:
    """Returns what notes our own value beside a row of memory, instead of asserting it."""

    def note(row: Published, *, remembered: object, ours: object) -> None:
        assert row.evidence == "memory"
        line = f"{row.id} {row.statement}: remembered {remembered}, ours {ours} {row.unit}"
        record_property(memory.PROPERTY, line)
        record_property(report.PROPERTY, Note.of(row, remembered, ours, "memory").text)

    return note
