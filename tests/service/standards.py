"""One served department for all readings of the open standards: nothing in these tests writes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from fastapi.testclient import TestClient

from reprocess.clock import StoryClock
from reprocess.gathering import Library
from reprocess.service import who
from reprocess.service.app import create_app
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US
from tests.service.conftest import Bench


@contextmanager
def standards_of(day: Path, folder: Path) -> Iterator[Bench]:
    """Yields the served department after its day."""
    clock = StoryClock(EVENING_US, count=100_000)
    with small.opened(copied(day, folder / "copy"), clock, library=Library()) as department:
        app = create_app(department)
        with TestClient(app, base_url="https://testserver") as client:
            bench = Bench(app, client, department, clock)
            app.dependency_overrides[who.caller] = lambda: bench.caller
            yield bench


def limit(bench: Bench, *, without: frozenset[str] = frozenset(), sites: frozenset[str] = frozenset()) -> None:
    """Lets the caller be a token with every scope but some, at some sites only."""
    scopes = bench.caller.scopes - without
    bench.caller = replace(bench.caller, kind="token", person=None, scopes=scopes, sites=sites)
