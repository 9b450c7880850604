"""The department of the engine's tests, served in this process: parts in every stage, wearers, places, a washer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from fastapi.testclient import TestClient

from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.rules.permissions import scopes_of
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.who import Caller
from reprocess.signing_in.pins import Pins
from tests.engine.fixtures import floor, prepared
from tests.engine.floor import BADGES, Floor
from tests.service.staff import PIN

ROLES = {
    "anna": ("technician",),
    "ben": ("technician",),
    "dan": ("technician",),
    "cora": ("supervisor",),
    "fay": ("infection-prevention",),
    "gus": ("clinical-engineer",),
    "hana": ("programme-administrator",),
    "lee": ("technician",),
}


@dataclass
class Hall:
    """Is the served department; who asks is set with `sign_in`, and keys are counted."""

    floor: Floor
    client: TestClient
    caller: Caller
    keys: int = 0

    def sign_in(self, name: str) -> None:
        """Lets somebody of the engine's tests sit at the bench."""
        self.caller = person(name)

    def get(self, path: str, **more: Any) -> Any:
        """Returns the response to a reading request."""
        return self.client.get(f"/v1{path}", **more)

    def post(self, path: str, body: dict[str, Any] | None = None, *, key: str | None = None, **more: Any) -> Any:
        """Returns the response to a writing request under a key of its own."""
        self.keys += 1
        headers = {"Idempotency-Key": key or f"hall-{self.keys}"} | more.pop("headers", {})
        return self.client.post(f"/v1{path}", json=body or {}, headers=headers, **more)

    def scan(self, *codes: str, key: str | None = None, **more: Any) -> Any:
        """Returns what a scan was answered, which must be 200."""
        told = self.post("/scans", {"codes": list(codes), **more}, key=key)
        assert told.status_code == 200, told.text
        return told.json()


def person(name: str, station: str = "BENCH") -> Caller:
    """Returns somebody of the engine's tests, signed in at a station."""
    roles = ROLES[name]
    return Caller(
        "person",
        person=name.upper(),
        badge=BADGES[name],
        station=station,
        roles=frozenset(roles),
        scopes=scopes_of(roles),
    )


def with_pins(floor: Floor) -> None:
    """Lets everybody sign; their hashes are cheap, so that the tests do not wait for them."""
    pins = Pins(floor.department.ledger.key, memory_kib=8)
    kept = pins.kept(PIN)
    with transaction(floor.department.ledger) as work:
        for name in ROLES:
            work.credentials.keep_pin(name.upper(), Pin(kept, 0, must_change=False))


@pytest.fixture
def hall(floor: Floor) -> Iterator[Hall]:
    """Yields the served department at seven in the morning, at which Cora, a supervisor, is signed in."""
    with_pins(floor)
    app = create_app(floor.department)
    with TestClient(app, base_url="https://testserver") as client:
        made = Hall(floor, client, person("cora"))
        app.dependency_overrides[who.caller] = lambda: made.caller
        yield made


__all__ = ["Hall", "floor", "hall", "person", "prepared"]
