"""The small department after its day, served in this process; nothing listens on a port."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import Library
from reprocess.rules.permissions import ROLES, SCOPES
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.who import Caller
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US, day_over  # noqa: F401 - a fixture of both rooms
from tests.signing_in.people import ANNA, BEN, CHEAP_KIB, give_pin


def anna() -> Caller:
    """Returns the first person of the small department at its station, signed in."""
    return Caller(kind="person", person="anna", badge="B-A", station="LMG-1", roles=ROLES, scopes=SCOPES)


@dataclass
class Bench:
    """Is a caller of the served department: who asks is set in `caller`, and keys are counted."""

    app: FastAPI
    client: TestClient
    department: Department
    clock: StoryClock
    keys: int = 0
    caller: Caller = field(default_factory=anna)

    def post(self, path: str, body: dict[str, Any] | None = None, *, key: str | None = None, **more: Any) -> Any:
        """Returns the response to a writing request under a key of its own."""
        self.keys += 1
        headers = {"Idempotency-Key": key or f"test-{self.keys}"} | more.pop("headers", {})
        return self.client.post(f"/v1{path}", json=body or {}, headers=headers, **more)

    def get(self, path: str, **more: Any) -> Any:
        """Returns the response to a reading request."""
        return self.client.get(f"/v1{path}", **more)


@pytest.fixture
def served(day_over: Path, tmp_path: Path) -> Iterator[Bench]:  # noqa: F811
    """Yields the served department, at which anna is signed in with every right."""
    with serving(copied(day_over, tmp_path / "copy")) as bench:
        yield bench


@contextmanager
def serving(path: Path) -> Iterator[Bench]:
    """Serves a small department after its day, at which anna is signed in with every right."""
    clock = StoryClock(EVENING_US, count=100_000)
    with small.opened(path, clock, library=Library()) as department:
        pins = Pins(department.ledger.key, memory_kib=CHEAP_KIB)
        for somebody in (ANNA, BEN):
            give_pin(department, pins, somebody)
        app = create_app(department)
        app.state.served.parts["door"] = Door(department.ledger, clock, pins)
        with TestClient(app, base_url="https://testserver") as client:
            bench = Bench(app, client, department, clock)
            app.dependency_overrides[who.caller] = lambda: bench.caller
            yield bench
