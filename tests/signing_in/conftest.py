"""The small department after its day, with PINs that cost little to compare."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import Library
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US, day_over  # noqa: F401 - a fixture of both rooms
from tests.signing_in.people import ANNA, BEN, CHEAP_KIB, give_pin


@pytest.fixture
def clock() -> StoryClock:
    """Returns a clock after the day, whose ids were not given before."""
    return StoryClock(EVENING_US, count=100_000)


@pytest.fixture
def department(day_over: Path, tmp_path: Path, clock: StoryClock) -> Iterator[Department]:  # noqa: F811
    """Yields the small department with a second station; Anna and Ben have a PIN each."""
    with small.opened(copied(day_over, tmp_path / "copy"), clock, library=Library()) as opened:
        pins = Pins(opened.ledger.key, memory_kib=CHEAP_KIB)
        for who in (ANNA, BEN):
            give_pin(opened, pins, who)
        yield opened


@pytest.fixture
def door(department: Department, clock: StoryClock) -> Door:
    """Returns what lets people in."""
    return Door(department.ledger, clock, Pins(department.ledger.key, memory_kib=CHEAP_KIB))
