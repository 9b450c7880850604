"""The interface under random requests: never a server error, never an undocumented status, never a broken schema.

The usual run is a sample, the same one every time. `--fuzz=20000` makes at least so many requests for each caller, in
rounds with one seed each.
"""

from __future__ import annotations

import pytest

from reprocess.rules.permissions import SCOPES
from reprocess.service import who
from reprocess.service.who import Caller
from tests.service import fuzz
from tests.service.conftest import Bench, anna
from tests.service.staff import token

SEED = 20_260_305
CALLERS = {"person": anna(), "token": token(*SCOPES)}
ROUNDS_MAX = 100
"""Rounds of a long run at most."""


@pytest.fixture
def bench(served: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The small department; whoever asks has given every PIN, since nobody guesses one by chance."""
    monkeypatch.setattr(who, "signs", lambda *_: "signed")
    return served


@pytest.mark.parametrize("caller", CALLERS.values(), ids=CALLERS)
def test_no_request_made_from_the_document_meets_a_fault(
    bench: Bench, caller: Caller, request: pytest.FixtureRequest
) -> None:
    bench.caller = caller
    least = request.config.getoption("--fuzz")
    found = fuzz.run(bench, fuzz.LONG(SEED) if least else fuzz.SHORT(SEED))
    for number in range(1, ROUNDS_MAX):
        if found.cases >= least:
            break
        found.add(fuzz.run(bench, fuzz.LONG(SEED + number)))
    if least:
        told = f"{found.cases} requests, {dict(sorted(found.statuses.items()))}"
        request.config.get_terminal_writer().line(told)
    assert found.errors == []
    assert found.faults == {}
    assert found.cases > 200
    assert found.statuses[200] > 40, "most requests are refused before they reach anything"
