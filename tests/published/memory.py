"""Rows known from memory only: noted by a test, printed at the end of the run, never asserted.

The hook has to stand in `tests/conftest.py` as well, because a run spread over several processes
prints from a process that loads no other conftest. It prints once.
"""

from typing import Protocol

import pytest

from tests.published.source import Published

PROPERTY = "from memory"
_printed = pytest.StashKey[bool]()


class FromMemory(Protocol):
    """Notes what is remembered beside what comes out of our code."""

    def __call__(self, row: Published, *, remembered: object, ours: object) -> None: ...


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """List the rows that were printed and not asserted."""
    reports = terminalreporter.stats.get("passed", [])
    notes = [str(value) for each in reports for name, value in each.user_properties if name == PROPERTY]
    if not notes or terminalreporter.config.stash.get(_printed, False):
        return
    terminalreporter.config.stash[_printed] = True
    terminalreporter.section("from memory, not asserted")
    for note in notes:
        terminalreporter.write_line(note)
