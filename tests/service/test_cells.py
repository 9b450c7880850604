"""Role by operation, over HTTP: every writing route asked as every role, and as tokens; the table of permissions holds.

OWASP API Security Top 10 (2023), API1, API3 and API5: what nobody looks at is what somebody gets through.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import Library
from reprocess.rules.permissions import CLAIM, PERMISSIONS, ROLES, SCOPES, may_person, may_token
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.operations import WRITES, Operation
from reprocess.service.who import Caller
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US
from tests.signing_in.people import STATION

KEY = {"Idempotency-Key": "a-cell", "If-Match": '"1"'}
Asks = Callable[[Operation, Caller], int]


@pytest.fixture(scope="module")
def served(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[FastAPI, Department]]:
    """Yields one served department for all cells; nothing that is asked here comes as far as the record."""
    path = copied(day_over, tmp_path_factory.mktemp("cells") / "copy")
    with small.opened(path, StoryClock(EVENING_US, count=100_000), library=Library()) as department:
        app = create_app(department)
        with TestClient(app, base_url="https://testserver"):
            yield app, department


@pytest.fixture
def asks(served: tuple[FastAPI, Department]) -> Iterator[Asks]:
    """Yields what asks for an operation as somebody, with a body that fits none, and returns the status."""
    app, _ = served
    client = TestClient(app, base_url="https://testserver")
    asking: list[Caller] = []
    app.dependency_overrides[who.caller] = lambda: asking[-1]

    def ask(one: Operation, caller: Caller) -> int:
        asking.append(caller)
        path = re.sub(r"\{(feed|number|use)\}", "1", one.path).replace("{sort}", "agent")
        return client.post(
            f"/v1{re.sub(r'{[a-z_]+}', 'X-1', path)}", json={"no such member": 1}, headers=KEY
        ).status_code

    yield ask
    app.dependency_overrides.clear()


def person(role: str) -> Caller:
    return Caller("person", person="P-A", badge="B-A", station=STATION, roles=frozenset({role}))


@pytest.mark.parametrize("one", WRITES, ids=lambda one: one.path)
def test_every_role_and_every_token_at_every_route(one: Operation, asks: Asks) -> None:
    for role in sorted(ROLES):
        refused = asks(one, person(role)) == 403
        assert refused == (may_person({role}, one.permission) is not None), role
    own = frozenset({PERMISSIONS[one.permission].scope or "none"})
    for scopes in (own, own | {CLAIM}, SCOPES - own, SCOPES, frozenset()):
        refused = asks(one, Caller("token", scopes=frozenset(scopes), token="T-1")) == 403  # noqa: S106 - its id
        assert refused == (may_token(scopes, one.permission, badge=CLAIM in scopes) is not None), scopes


def test_nothing_of_all_that_is_on_record(served: tuple[FastAPI, Department]) -> None:
    _, department = served
    assert [one for one in department.history("station:LMG-1") if one.envelope.key == KEY["Idempotency-Key"]] == []


def test_every_route_has_a_row() -> None:
    assert {one.permission for one in WRITES} - set(PERMISSIONS) == set()


def test_every_operation_that_a_route_names_has_a_row() -> None:
    source = Path(who.__file__).parent
    texts = [path.read_text(encoding="utf-8") for path in sorted(source.rglob("*.py"))]
    named = {name for text in texts for name in re.findall(r'needs\("([a-z-]+)"\)', text)}
    assert len(named) > 20
    assert named - set(PERMISSIONS) == set()


def _routes(found: Sequence[Any]) -> Iterator[APIRoute]:
    for one in found:
        if isinstance(one, APIRoute):
            yield one
        elif hasattr(one, "original_router"):  # how FastAPI 0.165 keeps a router that is included
            yield from _routes(one.original_router.routes)


def _asks_who(dependant: Dependant) -> bool:
    return dependant.call in (who.caller, who.caller_or_screen) or any(_asks_who(one) for one in dependant.dependencies)


def test_every_route_asks_who_it_is_but_those_that_say_why_not(served: tuple[FastAPI, Department]) -> None:
    """Default deny: a route that anybody may use is named here, with the reason."""
    app, _ = served
    routes = list(_routes(app.routes))
    open_ = {one.path for one in routes if not _asks_who(one.dependant)}
    assert len(routes) > 100
    assert open_ - set(ANYBODY) == set()


ANYBODY = {
    "/sessions": "signing in",
    "/sessions/current": "looks at the session itself",
    "/first-run": "takes the console's code",
    "/single-sign-on": "signing in",
    "/single-sign-on/back": "signing in",
    "/results/{source}": "each result is signed by its sender",
    "/health/live": "says whether the node is alive, and nothing else",
    "/health/ready": "says whether the node takes requests, and nothing else",
    "/metrics": "this computer alone, where the settings say so",
    "/fhir/metadata": "what the interface can do; FHIR R4, section 3.1.0.4, has it open",
    "/fhir/{kind}": "says that there is no such kind",
    "/fhir/{kind}/{name}": "says that there is no such kind",
    "/problems": "documentation",
    "/problems/{kind}": "documentation",
    "/openapi.json": "documentation",
    "/docs": "documentation",
    "/assets/documentation/{name}": "documentation",
    "/assets/documentation/start.js": "documentation",
    "/assets/pages/{made}/{name}": "the pages' own style and script",
    "/": "the doors to all pages, and nothing behind them",
    "/sign-in": "signing in",
    "/sign-out": "ends the session itself",
    "/language": "keeps a choice in the browser",
    "/live": "asks by itself, which is no use of a session (test_pages_attacks.py)",
    "/bench/{station}": "asks when it finds its place (test_pages_attacks.py)",
    "/bench/{station}/scan": "asks when it finds its place (test_pages_attacks.py)",
    "/bench/{station}/kept": "asks when it finds its place (test_pages_attacks.py)",
    "/calibration": "a bar and a table; keeps its figures in the browser",
    "/bench/{station}/clocks": "asks when it finds its place (test_pages_attacks.py)",
}
