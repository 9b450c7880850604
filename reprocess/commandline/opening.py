"""Opens the department and the station that a command works with."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reprocess.clock import StoryClock
from reprocess.department import Bench, Department, Server, beside, database_of, is_address, open_department
from reprocess.errors import WrongUseError
from reprocess.rules.cautions import DEMO, EXAMPLE
from reprocess.settings import Settings, secret_in


def department_place(given: Path | None) -> Path | Server:
    """Returns the department's file, or its place on a server: the option, or the settings."""
    settings = Settings()
    text = _as_typed(given) if given is not None else settings.department
    if not is_address(text):
        return Path(text)
    password = secret_in(settings.password_file) if settings.password_file is not None else None
    key_file = settings.key_file or Path(f"{database_of(text)}.key")
    return Server(text, key_file, settings.owner, password)


def department_path(given: Path | None) -> Path:
    """Returns the department's file; on a server, the name beside which this computer keeps what belongs to it."""
    return beside(department_place(given))


def _as_typed(given: Path) -> str:
    """Returns an option as it was typed: a path has lost one of the two slashes of an address."""
    text = str(given)
    scheme, _, rest = text.partition(":/")
    return f"{scheme}://{rest}" if is_address(f"{scheme}://") and not rest.startswith("/") else text


@contextmanager
def department_at(given: Path | None) -> Iterator[Department]:
    """Yields the open department, with the banners that every output of it needs on standard error."""
    with open_department(department_place(given)) as department:
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
