"""Rows known from memory only: noted by a test, printed at the end of the run, never asserted."""

from typing import Protocol

import pytest

from tests.published.source import Published

PROPERTY = "from memory"


class FromMemory(Protocol):
    """Notes what is remembered beside what comes out of our code."""

    def __call__(self, row: Published, *, remembered: object, ours: object) -> None: ...


def print_rows(terminal: pytest.TerminalReporter) -> None:
    """List the rows that were printed and not asserted."""
    reports = terminal.stats.get("passed", [])
    notes = [str(value) for each in reports for name, value in each.user_properties if name == PROPERTY]
    if not notes:
        return
    terminal.section("from memory, not asserted")
    for note in notes:
        terminal.write_line(note)
