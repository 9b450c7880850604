"""Opens the department and the station that a command works with."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reprocess.clock import StoryClock
from reprocess.department import Bench, Department, open_department
from reprocess.errors import WrongUseError
from reprocess.rules.cautions import DEMO, EXAMPLE
from reprocess.settings import Settings


def department_path(given: Path | None) -> Path:
    """Returns the department's file: the option, or the settings."""
    return given if given is not None else Settings().department


@contextmanager
def department_at(given: Path | None) -> Iterator[Department]:
    """Yields the open department, with the banners that every output of it needs on standard error."""
    path = department_path(given)
    with open_department(path) as department:
        if isinstance(department.clock, StoryClock):
            print(DEMO, file=sys.stderr)
        if department.rests_on_examples():
            print(EXAMPLE, file=sys.stderr)
        yield department


def bench_at(department: Department, station: str | None, badge: str | None, second: str | None) -> Bench:
    """Returns the station to work at: the option, the settings, or the first one on record.

    Raises:
        WrongUseError: the department has no station.
    """
    settings = Settings()
    name = station or settings.station
    if name is None:
        name = department.first_station()
    if name is None:
        message = "The department has no station."
        raise WrongUseError(message)
    return department.station(name, badge=badge or settings.badge, second=second)
