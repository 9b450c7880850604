"""Open pages: signs of life, news, and no page that keeps a session alive by itself."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from types import SimpleNamespace

import pytest

from reprocess.rules.guessing import IDLE_S
from reprocess.service import who
from reprocess.service.pages.live import RETRY, beats
from tests.service.conftest import Bench
from tests.signing_in.people import ANNA


def signed_in(bench: Bench) -> None:
    """Lets anna sign in by the form, and asks who it is as in life."""
    bench.app.dependency_overrides.clear()
    form = f"badge={ANNA.badge}&pin={ANNA.pin}&station=LMG-1&to=/desk"
    told = bench.client.post(
        "/sign-in",
        content=form,
        headers={"Content-Type": "application/x-www-form-urlencoded"},
        follow_redirects=False,
    )
    assert (told.status_code, told.headers["location"]) == (303, "/desk")


def opens(bench: Bench, *, by_itself: bool) -> int:
    """Returns the status of the desk's first page, asked by a person or by the page's script."""
    headers = {"X-Fragment": "1"} if by_itself else {}
    return int(bench.client.get("/desk", headers=headers, follow_redirects=False).status_code)


def test_a_page_that_renews_itself_does_not_keep_a_session_alive(served: Bench) -> None:
    signed_in(served)
    seen = []
    for _ in range(4):
        served.clock.push(IDLE_S // 4 + 1)
        seen.append(opens(served, by_itself=True))
    assert seen[0] == 200
    assert seen[-1] == 401


def test_whoever_works_on_keeps_the_session(served: Bench) -> None:
    signed_in(served)
    for _ in range(4):
        served.clock.push(IDLE_S // 2)
        assert opens(served, by_itself=False) == 200


def test_the_stream_needs_somebody_signed_in_or_a_screen(served: Bench) -> None:
    served.app.dependency_overrides.clear()
    served.client.cookies.clear()
    told = served.client.get("/live", follow_redirects=False)
    assert told.status_code == 303
    assert told.headers["location"].startswith("/sign-in")


async def _first(events: AsyncIterator[bytes], count: int) -> list[bytes]:
    return [await anext(events) for _ in range(count)]


def test_the_stream_begins_with_a_beat_and_tells_the_servers_time(served: Bench) -> None:
    parts = served.app.state.served

    async def run() -> list[bytes]:
        parts.stopping = asyncio.Event()
        return await _first(beats(parts, 0, beat_s=0.001), 3)

    told = asyncio.run(run())
    assert told[0].startswith(RETRY)
    names = [one.partition(b"event: ")[2].partition(b"\n")[0] for one in told]
    assert names[0] == b"beat"
    assert set(names) <= {b"beat", b"news"}
    at_ms = json.loads(told[0].partition(b"data: ")[2])["at"]
    assert at_ms == served.clock.now().wall_us // 1000


def test_the_stream_ends_by_itself_so_that_the_caller_is_looked_at_again(served: Bench) -> None:
    parts = served.app.state.served

    async def run() -> int:
        parts.stopping = asyncio.Event()
        return len([one async for one in beats(parts, 0, beat_s=0.001, lasts_s=0.02)])

    assert 1 <= asyncio.run(run()) < 100


@pytest.mark.parametrize("method", ["POST", "DELETE"])
def test_a_writing_request_is_use_whatever_its_headers_say(method: str) -> None:
    asked = SimpleNamespace(method=method, headers={who.OF_A_PAGE: "1"})
    assert not who.by_itself(asked)  # type: ignore[arg-type]
