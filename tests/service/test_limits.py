"""What is answered before anything else looks at a request; the middleware is asked directly, no port is opened."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import orjson
import pytest
from starlette.types import Message, Receive, Scope, Send

from reprocess.service.limits import (
    ADDRESS_BYTES,
    HEADERS_BYTES,
    HEADERS_MOST,
    LARGE_EACH,
    LARGE_TOGETHER,
    ROOMS,
    USUAL,
    Buckets,
    Gone,
    Guard,
    Rate,
    Rules,
    names_of,
    room_of,
    source_of,
    whole,
)
from reprocess.service.problems import ProblemError
from reprocess.service.who import Caller

JSON = (b"content-type", b"application/json")
HOST = (b"host", b"node.example:8470")
Headers = Iterable[tuple[bytes, bytes]]


@dataclass
class Inside:
    """Is an application that notes what reached it, and says whose credential it was."""

    caller: Caller | None = None
    status: int = 200
    bodies: list[bytes] = field(default_factory=list)
    waits: asyncio.Event | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        body = b""
        if any(name in {b"content-length", b"transfer-encoding"} for name, _ in scope["headers"]):
            body = (await receive())["body"]
        self.bodies.append(body)
        if self.waits is not None:
            await self.waits.wait()
        scope["state"]["caller"] = self.caller
        await send({"type": "http.response.start", "status": self.status, "headers": []})
        await send({"type": "http.response.body", "body": b"{}"})


@dataclass
class Told:
    """Is an answer."""

    status: int
    headers: dict[bytes, bytes]
    body: bytes

    @property
    def kind(self) -> str:
        """The problem's kind."""
        return str(orjson.loads(self.body)["type"]).rpartition("/")[2]


def request(path: str = "/v1/items/SH-1/undo", method: str = "POST", headers: Headers = (HOST, JSON)) -> dict[str, Any]:
    return {
        "type": "http",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "headers": list(headers),
        "client": ("192.0.2.7", 50_000),
        "state": {},
    }


async def answer(guard: Guard, scope: Scope, *parts: bytes, gone: bool = False) -> Told | None:
    """What a request is answered that sends these parts of a body, and then leaves or waits for ever."""
    waiting = [
        {"type": "http.request", "body": part, "more_body": at < len(parts) - 1 or gone}
        for at, part in enumerate(parts)
    ]
    sent: list[Message] = []

    async def receive() -> Message:
        if waiting:
            return waiting.pop(0)
        if gone:
            return {"type": "http.disconnect"}
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: Message) -> None:
        sent.append(message)

    await guard(scope, receive, send)
    if not sent:
        return None
    return Told(sent[0]["status"], dict(sent[0]["headers"]), b"".join(one["body"] for one in sent[1:]))


def asked(guard: Guard, scope: Scope, *parts: bytes, gone: bool = False) -> Any:
    return asyncio.run(answer(guard, scope, *parts, gone=gone))


def length(size: int) -> tuple[bytes, bytes]:
    return (b"content-length", str(size).encode())


MANY = [(f"x-{number}".encode(), b"1") for number in range(HEADERS_MOST)]


@pytest.mark.parametrize(
    ("scope", "status", "kind"),
    [
        (request(f"/v1/{'a' * ADDRESS_BYTES}"), 431, "header-too-large"),
        (request(headers=[HOST, JSON, *MANY]), 431, "header-too-large"),
        (request(headers=[HOST, JSON, (b"x-long", b"a" * HEADERS_BYTES)]), 431, "header-too-large"),
        # RFC 9112, 6.3: both at once may be an attempt at request smuggling and ought to be handled as an error.
        (request(headers=[HOST, JSON, length(2), (b"transfer-encoding", b"chunked")]), 400, "malformed"),
        (request(headers=[HOST, JSON, (b"content-length", b"+2")]), 400, "malformed"),
        (request(headers=[HOST, HOST, JSON]), 400, "malformed"),
        (request(headers=[HOST, JSON, (b"idempotency-key", b"1"), (b"idempotency-key", b"2")]), 400, "malformed"),
        (request(headers=[HOST, JSON, (b"content-encoding", b"gzip")]), 415, "media-type"),
        (request(headers=[(b"host", b"attacker.example"), JSON]), 400, "malformed"),
        (request(method="GET", headers=[(b"host", b"attacker.example")]), 400, "malformed"),
        (request(method="GET", headers=[]), 400, "malformed"),
        (request(headers=[HOST]), 415, "media-type"),
        (request(headers=[HOST, (b"content-type", b"text/plain")]), 415, "media-type"),
        (
            request("/v1/files", headers=[HOST, (b"content-type", b"multipart/form-data; boundary=a")]),
            415,
            "media-type",
        ),
        (request(method="DELETE", headers=[HOST, length(2)]), 415, "media-type"),
        (request(headers=[HOST, JSON, (b"origin", b"https://attacker.example")]), 403, "wrong-origin"),
        (request(headers=[HOST, JSON, (b"origin", b"null")]), 403, "wrong-origin"),
        (request(headers=[HOST, JSON, (b"sec-fetch-site", b"cross-site")]), 403, "wrong-origin"),
        (request(headers=[HOST, JSON, (b"sec-fetch-site", b"same-site")]), 403, "wrong-origin"),
        (request(headers=[HOST, JSON, length(USUAL.bytes_most + 1)]), 413, "too-large"),
        (request(headers=[HOST, JSON, (b"content-length", b"9" * 400)]), 400, "malformed"),
    ],
)
def test_what_is_not_answered_never_reaches_a_route_and_its_body_is_not_read(
    scope: Scope, status: int, kind: str
) -> None:
    inside = Inside()
    told = asked(Guard(inside, Rules(names=names_of(["node.example"]))), scope)
    assert (told.status, told.kind, inside.bodies) == (status, kind, [])


@pytest.mark.parametrize(
    "scope",
    [
        request(method="GET", headers=[HOST]),
        request(
            method="GET", headers=[HOST, (b"sec-fetch-site", b"cross-site"), (b"origin", b"https://other.example")]
        ),
        request(headers=[(b"host", b"localhost:8470"), JSON]),
        request(headers=[(b"host", b"[::1]:8470"), JSON]),
        request(headers=[(b"host", b"192.0.2.1"), JSON]),
        request(headers=[HOST, (b"content-type", b"Application/JSON; charset=utf-8")]),
        request(headers=[HOST, (b"content-type", b"application/cloudevents+json")]),
        request(headers=[HOST, JSON, (b"origin", b"https://node.example:8470"), (b"sec-fetch-site", b"same-origin")]),
        request(headers=[HOST, JSON, (b"sec-fetch-site", b"none")]),
        request("/v1/files", headers=[HOST, (b"content-type", b"image/jpeg")]),
        request("/v1/files/x", headers=[HOST, (b"content-type", b"image/jpeg")]),
        request(method="DELETE", headers=[HOST]),
        request(headers=[HOST, JSON, (b"content-encoding", b"identity")]),
    ],
)
def test_what_keeps_to_the_limits_reaches_its_route(scope: Scope) -> None:
    inside = Inside()
    assert asked(Guard(inside, Rules(names=names_of(["node.example"]))), scope).status == 200
    assert len(inside.bodies) == 1


def test_a_body_is_handed_on_as_a_whole() -> None:
    inside = Inside()
    asked(Guard(inside, Rules()), request(headers=[HOST, JSON, length(6)]), b'{"a"', b":1", b"}")
    assert inside.bodies == [b'{"a":1}']


def test_a_body_without_a_length_is_counted_while_it_comes() -> None:
    inside = Inside()
    scope = request(headers=[HOST, JSON, (b"transfer-encoding", b"chunked")])
    told = asked(Guard(inside, Rules()), scope, b"a" * USUAL.bytes_most, b"a")
    assert (told.status, told.kind, told.headers[b"connection"], inside.bodies) == (413, "too-large", b"close", [])


def test_a_client_that_leaves_gets_no_answer_and_holds_nothing() -> None:
    inside = Inside()
    guard = Guard(inside, Rules())
    assert asked(guard, request("/v1/files", headers=[HOST, JSON, length(100_000)]), b"a", gone=True) is None
    assert (inside.bodies, guard._large.total()) == ([], 0)


def test_a_body_that_does_not_come_is_not_waited_for() -> None:
    async def never() -> Message:
        await asyncio.Event().wait()
        raise AssertionError

    async def gone() -> Message:
        return {"type": "http.disconnect"}

    with pytest.raises(ProblemError) as slow:
        asyncio.run(whole(never, USUAL, seconds=0))
    assert slow.value.kind == "too-slow"
    with pytest.raises(Gone):
        asyncio.run(whole(gone, USUAL))


def test_rooms_are_found_by_address() -> None:
    assert room_of("/v1/items/SH-1/undo") is USUAL
    assert room_of("/v1/filesystem") is USUAL
    assert all(room_of(one.path) is one and room_of(f"{one.path}/x") is one for one in ROOMS)
    assert (room_of("/v1/files").bytes_most, room_of("/v1/workflows/x").bytes_most) == (10_485_760, 262_144)


def test_only_so_many_large_bodies_are_held_at_a_time() -> None:
    async def all_at_once() -> tuple[list[int], Told | None]:
        inside = Inside(waits=asyncio.Event())
        guard = Guard(inside, Rules())
        scope = request("/v1/files", headers=[HOST, JSON, length(100_000)])
        others = [scope | {"client": (f"192.0.2.{at}", 1)} for at in range(10, 10 + LARGE_TOGETHER)]
        held = [asyncio.ensure_future(answer(guard, one, b"a")) for one in others]
        while len(inside.bodies) < LARGE_TOGETHER:
            await asyncio.sleep(0)
        more = await answer(guard, dict(scope), b"a")
        small = asyncio.ensure_future(answer(guard, request("/v1/files", headers=[HOST, JSON, length(2)]), b"{}"))
        assert inside.waits is not None
        inside.waits.set()
        return [one.status for one in await asyncio.gather(*held, small) if one is not None], more

    done, more = asyncio.run(all_at_once())
    assert done == [200] * (LARGE_TOGETHER + 1)
    assert more is not None
    assert (more.status, more.kind) == (503, "ledger-busy")


def test_one_address_does_not_take_the_turns_of_all_for_large_bodies() -> None:
    """I19: whoever announces much and sends it slowly, without being known at all, keeps nobody else from sending."""

    async def slowly_and_beside_it() -> tuple[list[Told | None], Told | None, Told | None]:
        guard = Guard(Inside(), Rules())
        large = [HOST, JSON, length(100_000)]
        slow = [request("/v1/results/washer-1", headers=large) for _ in range(LARGE_TOGETHER)]
        never = [asyncio.ensure_future(answer(guard, one)) for one in slow]
        for _ in range(10):
            await asyncio.sleep(0)
        refused = [one.result() for one in never if one.done()]
        other = request("/v1/results/washer-1", headers=large) | {"client": ("192.0.2.8", 1)}
        beside = await answer(guard, other, b"a")
        for one in never:
            one.cancel()
        await asyncio.gather(*never, return_exceptions=True)
        return refused, beside, await answer(guard, request("/v1/results/washer-1", headers=large), b"a")

    refused, beside, afterwards = asyncio.run(slowly_and_beside_it())
    assert [one.status for one in refused if one is not None] == [503] * (LARGE_TOGETHER - LARGE_EACH)
    assert [one.status for one in (beside, afterwards) if one is not None] == [200, 200]


def test_a_bucket_gives_its_burst_at_once_and_then_its_rate() -> None:
    # Worked by hand: 3 at once; 2 a second, so that after 0.25 s there is half a request and after 0.5 s one.
    buckets = Buckets(Rate("caller", per_s=2, burst=3))
    assert [buckets.take("a", 10.0) for _ in range(3)] == [(2, 0.0), (1, 0.0), (0, 0.0)]
    assert buckets.take("a", 10.0) == (0, 0.5)
    assert buckets.take("a", 10.25) == (0, 0.25)
    assert buckets.take("a", 10.5) == (0, 0.0)
    assert buckets.take("b", 10.5) == (2, 0.0)
    assert buckets.take("a", 99.0) == (2, 0.0)
    assert buckets.take("a", 98.0) == (1, 0.0)


def test_buckets_stay_bounded() -> None:
    buckets = Buckets(Rate("address", 1, 1), most=10)
    for number in range(1000):
        buckets.take(str(number), 1.0)
    assert len(buckets._kept) == 10


def rated(caller: Caller | None) -> tuple[Guard, Inside]:
    inside = Inside(caller)
    return Guard(inside, Rules(caller=Rate("caller", 1, 4), stranger=Rate("address", 1, 2))), inside


def bearer(secret: str, address: str = "192.0.2.7") -> dict[str, Any]:
    scope = request(method="GET", headers=[HOST, (b"authorization", f"Bearer {secret}".encode())])
    return scope | {"client": (address, 50_000)}


async def statuses(guard: Guard, scopes: Iterable[Scope]) -> list[Told]:
    found = [await answer(guard, scope) for scope in scopes]
    return [one for one in found if one is not None]


def test_a_token_that_was_accepted_has_a_rate_of_its_own() -> None:
    guard, _ = rated(Caller("token", token="meter"))  # noqa: S106 - a token's name
    told = asyncio.run(statuses(guard, [bearer("good") for _ in range(6)]))
    assert [one.status for one in told] == [200] * 5 + [429]  # one by its address, four by itself
    assert told[0].headers[b"ratelimit-policy"] == b'"address";q=2;w=2'
    assert told[1].headers[b"ratelimit-policy"] == b'"caller";q=4;w=4'
    assert told[1].headers[b"ratelimit"].startswith(b'"caller";r=3;t=')
    assert (told[5].kind, told[5].headers[b"retry-after"]) == ("too-many-tries", b"1")


def test_credentials_that_nobody_accepts_count_for_their_address() -> None:
    guard, inside = rated(None)
    told = asyncio.run(statuses(guard, [bearer(f"invented-{number}") for number in range(4)]))
    assert [one.status for one in told] == [200, 200, 429, 429]
    assert len(inside.bodies) == 2
    other = asyncio.run(statuses(guard, [bearer("invented", "198.51.100.1")]))
    assert other[0].status == 200


def test_a_credential_that_nobody_accepts_stays_with_its_address_however_often_it_comes() -> None:
    guard, _ = rated(None)
    told = asyncio.run(statuses(guard, [bearer("invented") for _ in range(4)]))
    assert [one.status for one in told] == [200, 200, 429, 429]


def test_a_token_that_was_withdrawn_counts_for_its_address_again() -> None:
    async def story() -> list[bytes]:
        guard, inside = rated(Caller("token", token="meter"))  # noqa: S106 - a token's name
        first = await statuses(guard, [bearer("good") for _ in range(2)])
        inside.caller = None
        open_to_all = await statuses(guard, [bearer("good")])
        inside.status = 401
        refused = await statuses(guard, [bearer("good") for _ in range(2)])
        return [one.headers[b"ratelimit"][:9] for one in (*first, *open_to_all, *refused)]

    # What is open to all says nothing about a token; only an answer of 401 does.
    assert asyncio.run(story()) == [b'"address"', b'"caller";', b'"caller";', b'"caller";', b'"address"']


def test_cookies_beside_a_session_gain_nothing() -> None:
    guard, _ = rated(Caller("person", person="anna", station="LMG-1"))
    scopes = [request(method="GET", headers=[HOST, (b"cookie", b"x=%d; session=s" % at)]) for at in range(7)]
    assert [one.status for one in asyncio.run(statuses(guard, scopes))].count(200) == 5


def test_an_ipv6_network_is_one_source() -> None:
    # RFC 6177: a site is given at least a /64, so that single addresses in it are its own choice.
    one, two = request() | {"client": ("2001:db8::1", 1)}, request() | {"client": ("2001:db8::ffff:2", 1)}
    assert source_of(one) == source_of(two) == "2001:db8::/64"
    assert source_of(request()) == "192.0.2.7"
    assert source_of(request() | {"client": None}) == ""
    # RFC 4291, 2.5.5.2: IPv4 addresses as IPv6 has them; all of them lie within one /64.
    mapped = [request() | {"client": (f"::ffff:192.0.2.{at}", 1)} for at in (7, 8)]
    assert [source_of(one) for one in mapped] == ["192.0.2.7", "192.0.2.8"]
