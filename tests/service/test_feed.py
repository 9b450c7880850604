"""Following the record over HTTP: pages, waiting, the stream, the catalogue; nothing is lost on the way."""

from __future__ import annotations

import asyncio
import json
from collections import Counter
from collections.abc import AsyncIterator, Callable, Coroutine
from typing import Any

import pytest

from reprocess.engine import request as asking
from reprocess.exchange.events import Sight
from reprocess.record.catalogue import ALL, SCOPES
from reprocess.service import streaming
from reprocess.service.api import feed as feeding
from reprocess.service.api.feed import follow, watcher_of
from reprocess.service.served import Served
from reprocess.service.streaming import EventStream, Streams
from reprocess.service.watching import Watcher
from reprocess.service.who import Caller
from tests.service.conftest import Bench

ALL_OF_IT = Sight(scopes=frozenset(SCOPES), cases=True)


@pytest.fixture
def bench(served: Bench) -> Bench:
    """The served department with the feed among its routes."""
    if not any(getattr(route, "path", "") == "/v1/entries" for route in served.app.routes):
        served.app.include_router(feeding.router, prefix="/v1")
    return served


def happens(bench: Bench) -> None:
    """Lets one entry be written: a fact about an item that is not on record."""
    answer = bench.department.station("LMG-1", badge="B-A").ask(asking.Contaminate("SH-1", "used"))
    assert answer.accepted


def parts_of(bench: Bench) -> Served:
    parts: Served = bench.app.state.served
    return parts


def test_pages_give_every_entry_once_in_order_and_link_to_the_next(bench: Bench) -> None:
    last, seen, address = bench.department.last_feed(), list[int](), "/entries?after=0&limit=7"
    for _ in range(last // 7 + 1):
        told = bench.get(address)
        assert told.status_code == 200, told.text
        seen += [one["feed"] for one in told.json()["entries"]]
        address = told.headers["link"].partition(">")[0].removeprefix("</v1")
        assert told.headers["link"].endswith('; rel="next"')
    assert seen == list(range(1, last + 1))
    end = bench.get(address).json()
    assert (end["entries"], end["next_after"], end["last"]) == ([], last, last)


def test_a_filter_moves_on_past_what_it_leaves_out(bench: Bench) -> None:
    told = bench.get("/entries?limit=1000&kind=site-opened").json()
    assert {one["kind"] for one in told["entries"]} == {"site-opened"}
    assert told["next_after"] == bench.department.last_feed()


@pytest.mark.parametrize("query", ["after=-1", "limit=0", "limit=1001", "wait=26", "kind=item-dreamt", "after=x"])
def test_what_cannot_be_asked_is_a_problem(bench: Bench, query: str) -> None:
    told = bench.get(f"/entries?{query}")
    assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/invalid")


def test_a_token_without_further_scopes_gets_places_instead_of_names(bench: Bench) -> None:
    bench.caller = Caller("token", scopes=frozenset({"feed:read"}), token="T-1", identity="token")  # noqa: S106
    told = bench.get("/entries?limit=1000").json()
    assert [one["feed"] for one in told["entries"]] == list(range(1, bench.department.last_feed() + 1))
    assert any(one.get("withheld") for one in told["entries"])
    assert "B-A" not in json.dumps(told)


def test_a_token_without_the_scope_gets_nothing(bench: Bench) -> None:
    bench.caller = Caller("token", scopes=frozenset({"items:read"}), token="T-1", identity="token")  # noqa: S106
    assert bench.get("/entries").status_code == 403
    assert bench.get("/entries/1").status_code == 403
    assert bench.get("/entries/stream").status_code == 403


def test_one_entry_is_read_by_its_number(bench: Bench) -> None:
    assert bench.get("/entries/1").json()["feed"] == 1
    missing = bench.get(f"/entries/{bench.department.last_feed() + 1}")
    assert (missing.status_code, missing.json()["type"]) == (404, "/v1/problems/unknown-subject")


def test_the_catalogue_lists_every_kind_with_its_schema(bench: Bench) -> None:
    told = bench.get("/catalogue").json()
    assert {(one["kind"], one["version"]) for one in told} == set(ALL)
    one = bench.get("/catalogue/item-released").json()[0]
    assert one["type"] == "item.released"
    assert one["body_schema"]["properties"]["cycle"]["type"] == "integer"
    assert bench.get("/catalogue/item-dreamt").status_code == 404


def played(bench: Bench, play: Callable[[Served], Coroutine[Any, Any, None]]) -> None:
    """Lets a play run in a loop of its own, with parts of its own."""

    async def within() -> None:
        parts = Served(bench.department, parts_of(bench).batcher, parts_of(bench).settings)
        await asyncio.wait_for(play(parts), 20)

    asyncio.run(within())


def test_all_who_wait_are_woken_by_one_look_and_by_a_nudge(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        looks: list[int] = []

        def last() -> int:
            looks.append(bench.department.last_feed())
            return looks[-1]

        watcher, after = Watcher(last, parts.stopping, every_s=3600), bench.department.last_feed()
        waiting = [asyncio.create_task(watcher.wait(after, 3600)) for _ in range(50)]
        await until(lambda: watcher.waiting == 50 and bool(looks))
        happens(bench)
        watcher.nudge()
        assert all(await asyncio.gather(*waiting))
        assert len(looks) <= 3
        assert watcher.waiting == 0

    played(bench, play)


async def until(holds: Callable[[], bool]) -> None:
    """Lets others run until something holds."""
    for _ in range(10_000):
        if holds():
            return
        await asyncio.sleep(0)
        await asyncio.to_thread(lambda: None)
    raise AssertionError


def test_whoever_waits_in_vain_is_told_so_and_whoever_waits_at_the_stop_is_let_go(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        watcher, after = watcher_of(parts), bench.department.last_feed()
        assert not await watcher.wait(after, 0.01)
        waiting = asyncio.create_task(watcher.wait(after, 3600))
        await until(lambda: watcher.waiting == 1)
        parts.stopping.set()
        assert not await waiting

    played(bench, play)


async def some(frames: AsyncIterator[bytes], count: int) -> list[bytes]:
    return [await anext(frames) for _ in range(count)]


def test_a_stream_gives_what_follows_and_then_what_happens(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        last = bench.department.last_feed()
        frames = follow(parts, last - 2, lambda: ALL_OF_IT)
        first = await some(frames, 2)
        assert [one.partition(b"\n")[0] for one in first] == [b"id: %d" % (last - 1), b"id: %d" % last]
        coming = asyncio.ensure_future(anext(frames))
        await until(lambda: watcher_of(parts).waiting == 1)
        happens(bench)
        watcher_of(parts).nudge()
        told = await coming
        assert told.startswith(b"id: %d\nevent: fact.noted\ndata: {" % (last + 1))
        assert told.endswith(b"}\n\n")

    played(bench, play)


def test_a_quiet_stream_shows_that_it_lives_and_ends_with_the_node(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        frames = follow(parts, bench.department.last_feed(), lambda: ALL_OF_IT, heartbeat_s=0.01)
        assert await some(frames, 2) == [streaming.HEARTBEAT] * 2
        parts.stopping.set()
        assert [one async for one in frames] in ([], [streaming.HEARTBEAT])

    played(bench, play)


def test_a_stream_with_a_filter_moves_its_reader_on(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        sight = Sight(kinds=frozenset({"item-lost"}))
        frames = follow(parts, 0, lambda: sight, heartbeat_s=0.01)
        assert (await anext(frames)).startswith(b"id: ")
        assert b"data" not in b"".join(await some(follow(parts, 0, lambda: sight, heartbeat_s=0.01), 1))

    played(bench, play)


async def forever() -> AsyncIterator[bytes]:
    while True:
        yield b": x\n\n"


async def never() -> Any:
    await asyncio.Event().wait()


def test_a_reader_that_does_not_keep_up_is_cut_off(bench: Bench) -> None:
    async def play(_: Served) -> None:
        streams, sent = Streams(), list[Any]()

        async def send(message: Any) -> None:
            sent.append(message)
            if len(sent) > 3:
                await never()

        await EventStream(forever(), streams, "token:T-1", send_s=0.01)({}, never, send)
        assert len(sent) == 4
        assert streams.open == 0

    played(bench, play)


def test_a_reader_that_goes_away_frees_its_stream(bench: Bench) -> None:
    async def play(_: Served) -> None:
        streams, gone = Streams(), asyncio.Event()

        async def send(message: Any) -> None:
            if message["type"] == "http.response.body":
                assert streams.open == 1
                gone.set()
                await never()

        async def receive() -> Any:
            await gone.wait()
            return {"type": "http.disconnect"}

        await EventStream(forever(), streams, "token:T-1")({}, receive, send)
        assert streams.open == 0

    played(bench, play)


def test_a_stream_begins_where_its_reader_was(bench: Bench) -> None:
    """The standard: a reader that comes back sends the last id it saw as `Last-Event-ID`."""
    last = bench.department.last_feed()
    parts_of(bench).stopping.set()  # so that the stream ends at once and a plain client can read all of it
    told = bench.get("/entries/stream", headers={"Last-Event-ID": str(last - 1)})
    assert told.status_code == 200
    assert told.headers["content-type"].startswith("text/event-stream")
    assert bench.get("/entries/stream", headers={"Last-Event-ID": "x"}).status_code == 422


def test_a_node_keeps_so_many_streams_and_no_more(bench: Bench) -> None:
    parts_of(bench).parts["streams"] = Streams(Counter({"token:T-1": streaming.STREAMS_MAX}))
    told = bench.get("/entries/stream")
    assert (told.status_code, told.json()["type"]) == (429, "/v1/problems/too-many-tries")


def test_one_reader_does_not_take_the_streams_of_all(bench: Bench) -> None:
    """I19."""
    parts_of(bench).stopping.set()  # so that a stream ends at once and a plain client can read all of it
    own = f"person:{bench.caller.person}"
    for others, status in ((own, 429), ("token:T-1", 200)):
        parts_of(bench).parts["streams"] = Streams(Counter({others: streaming.STREAMS_EACH}))
        assert bench.get("/entries/stream").status_code == status


def test_a_wait_ends_when_something_happens(bench: Bench) -> None:
    async def play(parts: Served) -> None:
        after = bench.department.last_feed()
        waiting = asyncio.create_task(watcher_of(parts).wait(after, 25))
        await until(lambda: watcher_of(parts).waiting == 1)
        happens(bench)
        watcher_of(parts).nudge()
        assert await waiting

    played(bench, play)
    assert bench.get(f"/entries?after={bench.department.last_feed() - 1}&wait=25").json()["entries"]
