"""The demo served in this process: Larkmoor General at the end of its day, with everybody's PIN."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from reprocess.clock import StoryClock, clock_for
from reprocess.demo.crew import NAMES
from reprocess.demo.story import play
from reprocess.department import open_department
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.rules.permissions import SCOPES, scopes_of
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.who import Caller
from reprocess.signing_in.pins import Pins
from tests.faults.crashing import copied
from tests.service.conftest import Bench
from tests.service.staff import PIN, token

PEOPLE = {"mirela": "P-MT", "petra": "P-PV", "joss": "P-JA", "hedda": "P-HQ", "bram": "P-BO"}


@pytest.fixture(scope="session")
def day_at_larkmoor(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns the demo's file after its day."""
    path = tmp_path_factory.mktemp("larkmoor") / "demo.db"
    play(path, lambda _: None)
    return path


@pytest.fixture
def larkmoor(day_at_larkmoor: Path, tmp_path: Path) -> Iterator[Bench]:
    """Yields the demo, asked by a program with every scope."""
    clock = clock_for(day_at_larkmoor)
    assert isinstance(clock, StoryClock)
    path = copied(day_at_larkmoor, tmp_path / "copy")
    with open_department(path, clock=clock) as department:
        pins = Pins(department.ledger.key, memory_kib=8)
        kept = Pin(pins.kept(PIN), 0, must_change=False)
        with transaction(department.ledger) as work:
            for person in PEOPLE.values():
                work.credentials.keep_pin(person, kept)
        app = create_app(department)
        with TestClient(app, base_url="https://testserver") as client:
            bench = Bench(app, client, department, clock, caller=token(*SCOPES))
            app.dependency_overrides[who.caller] = lambda: bench.caller
            yield bench


def signed_in(bench: Bench, name: str) -> Caller:
    """Returns somebody of the story at their usual station."""
    badge, station = NAMES[name]
    roles = bench.department.person(PEOPLE[name]).roles
    return Caller(
        "person",
        person=PEOPLE[name],
        badge=badge,
        station=station,
        roles=frozenset(roles),
        scopes=scopes_of(roles),
    )
