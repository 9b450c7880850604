"""What a request may be at all: its head, its body, how fast it comes and from where (I18-I20).

Every check stands before routes, sign-in and threads: what is refused here costs a few microseconds. A body is read
as a whole, within its room and its time, before anybody works on it, so that a slow client holds no thread.
"""

from __future__ import annotations

import asyncio
import hashlib
import ipaddress
import math
from collections import Counter, OrderedDict
from collections.abc import Iterable, Iterator, MutableMapping
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any, Final

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from reprocess.service.problems import ProblemError, problem

KIB: Final = 1024
ADDRESS_BYTES: Final = 4 * KIB
"""Path and query together; RFC 9110, section 4.1 asks for 8000 at least in general, ours need a few hundred."""
HEADERS_MOST: Final = 64
HEADERS_BYTES: Final = 16 * KIB
"""All headers of a request (our choice; browsers send about 1 KiB)."""
BODY_S: Final = 25
"""Seconds within which a whole body must arrive; with its headers' time it stays below the 30 s of F13."""
LARGE_TOGETHER: Final = 8
"""Bodies above the usual room that are held at the same time: they bound the memory of all of them together."""
LARGE_EACH: Final = 2
"""Of those, so many of one address (our choice): who sends slowly takes the turns of nobody else."""


@dataclass(frozen=True, slots=True)
class Room:
    """Is what may be sent to some addresses.

    Attributes:
        path: the address and all below it.
        bytes_most: the largest body.
        any_type: whether it need not be JSON; what a form of another site could send never is taken.
    """

    path: str
    bytes_most: int
    any_type: bool = False


USUAL: Final = Room("", 64 * KIB)
ROOMS: Final = (
    Room("/v1/files", 10 * KIB * KIB, any_type=True),
    Room("/v1/imports", 10 * KIB * KIB, any_type=True),
    Room("/v1/workflows", 256 * KIB),
    Room("/v1/results", 1024 * KIB),
    Room("/v1/loads", 256 * KIB),
    Room("/desk/workflows", 768 * KIB),
)
"""Addresses whose bodies may be larger than usual (our choices: a photo, a file of a thousand rows, a workflow's text
of 60,000 characters, a load's readings; a form writes a letter beyond ASCII with up to 12 bytes, WHATWG URL 5.2)."""

INTERFACE: Final = ("/v1/", "/fhir/", "/openapi.json", "/metrics")
"""Addresses of data, where nothing is kept by whoever passes it on and nothing is loaded; all others are pages."""
FORM: Final = "application/x-www-form-urlencoded"
READS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
WITHOUT_BODY: Final = frozenset({"DELETE"})
OF_FORMS: Final = frozenset({FORM, "multipart/form-data", "text/plain", ""})
"""What a page of another site can send without asking first (Fetch standard, "CORS-safelisted request-header")."""
ONCE: Final = frozenset(
    {b"host", b"origin", b"content-type", b"content-length", b"content-encoding", b"authorization", b"idempotency-key"}
)
"""Headers of which two would mean two different requests."""
OWN_SITE: Final = frozenset({b"same-origin", b"none"})

Heads = MutableMapping[bytes, bytes]


@dataclass(frozen=True, slots=True)
class Rate:
    """Is how many requests are answered: so many at once, so many a second over a longer time."""

    name: str
    per_s: int
    burst: int


@dataclass(frozen=True, slots=True)
class Rules:
    """Is what this node checks of every request.

    Attributes:
        names: the names in `Host` that it answers to, in lower case and without a port; None answers to all.
        caller: the rate of one session or token; None for no limit.
        stranger: the rate of one address without either; None for no limit.
    """

    names: frozenset[str] | None = None
    caller: Rate | None = None
    stranger: Rate | None = None


def room_of(path: str) -> Room:
    """Returns what may be sent to an address."""
    return next((one for one in ROOMS if path == one.path or path.startswith(f"{one.path}/")), USUAL)


def must_be_in_bounds(scope: Scope, rules: Rules) -> Heads:
    """Returns the headers of a request by name, when its head is one that is answered at all.

    Raises:
        ProblemError: it is too large, says two things at once, is for another server, or comes from another site.
    """
    heads = _heads(scope)
    if len(scope.get("raw_path") or scope["path"].encode()) + len(scope["query_string"]) > ADDRESS_BYTES:
        message = f"The address is longer than {ADDRESS_BYTES} bytes; nothing was recorded."
        raise ProblemError("header-too-large", message)
    if b"content-length" in heads and b"transfer-encoding" in heads:
        message = "Content-Length and Transfer-Encoding exclude each other; nothing was recorded."
        raise ProblemError("malformed", message)
    if heads.get(b"content-encoding", b"identity") != b"identity":
        message = "Send the body as it is, not compressed; nothing was recorded."
        raise ProblemError("media-type", message)
    host = heads.get(b"host", b"").lower()
    if rules.names is not None and not _is_named(_name(host), rules.names):
        message = "This server does not answer to that name; nothing was recorded."
        raise ProblemError("malformed", message)
    if scope["method"] not in READS:
        _must_be_ours(heads, host)
        _must_be_typed(scope, heads)
    return heads


def _heads(scope: Scope) -> Heads:
    found: Heads = {}
    size = 0
    headers = scope["headers"]
    if len(headers) > HEADERS_MOST:
        message = f"There are more than {HEADERS_MOST} headers; nothing was recorded."
        raise ProblemError("header-too-large", message)
    for name, value in headers:
        size += len(name) + len(value)
        if name in found and name in ONCE:
            message = f"{name.decode('ascii', 'replace')} stands there twice; nothing was recorded."
            raise ProblemError("malformed", message)
        found[name] = value
    if size > HEADERS_BYTES:
        message = f"The headers are longer than {HEADERS_BYTES} bytes; nothing was recorded."
        raise ProblemError("header-too-large", message)
    return found


def _name(host: bytes) -> str:
    """Returns the name in a Host header: without its port, an IPv6 address without its brackets."""
    text = host.decode("latin-1")
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0]


def _is_named(name: str, names: frozenset[str]) -> bool:
    """Tells whether a name is one of ours, or an address: a page that was lured here by a false name says a name."""
    if name in names:
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _must_be_ours(heads: Heads, host: bytes) -> None:
    """Raises where a page of another site sends what would change something here (ASVS 5.0, 3.5.1 to 3.5.3)."""
    origin = heads.get(b"origin")
    same = origin is None or origin.partition(b"://")[2].lower() == host
    if not same or heads.get(b"sec-fetch-site", b"none") not in OWN_SITE:
        message = "The request comes from a page of another site; nothing was recorded."
        raise ProblemError("wrong-origin", message)


def _must_be_typed(scope: Scope, heads: Heads) -> None:
    sort = heads.get(b"content-type", b"").partition(b";")[0].strip().lower().decode("latin-1")
    if not sort and scope["method"] in WITHOUT_BODY and not has_body(heads):
        return
    if sort == FORM and not scope["path"].startswith(INTERFACE):
        return
    json = sort == "application/json" or (sort.startswith("application/") and sort.endswith("+json"))
    if not json and (sort in OF_FORMS or not room_of(scope["path"]).any_type):
        message = "Send application/json; nothing was recorded."
        raise ProblemError("media-type", message)


def has_body(heads: Heads) -> bool:
    """Tells whether a body follows the headers (RFC 9112, section 6)."""
    return b"transfer-encoding" in heads or heads.get(b"content-length", b"0").strip(b"0") != b""


def must_fit(heads: Heads, room: Room) -> None:
    """Raises where the announced length is none, or beyond the room.

    Raises:
        ProblemError: either of them.
    """
    said = heads.get(b"content-length")
    if said is None:
        return
    if not said.isdigit() or len(said) > _DIGITS:
        message = "Content-Length is no number; nothing was recorded."
        raise ProblemError("malformed", message)
    if int(said) > room.bytes_most:
        raise _too_large(room)


_DIGITS: Final = 15


def _too_large(room: Room) -> ProblemError:
    return ProblemError("too-large", f"At most {room.bytes_most} bytes are taken here; nothing was recorded.")


class Gone(Exception):  # noqa: N818 - no error: whoever asked has left
    """Says that the client went away before its request was complete."""


async def whole(receive: Receive, room: Room, seconds: float = BODY_S) -> bytes:
    """Returns the whole body of a request.

    Raises:
        ProblemError: it is too large, or not complete in time.
        Gone: the client went away.
    """
    parts: list[bytes] = []
    size = 0
    try:
        async with asyncio.timeout(seconds):
            more = True
            while more:
                message = await receive()
                if message["type"] == "http.disconnect":
                    raise Gone
                parts.append(message.get("body", b""))
                size += len(parts[-1])
                if size > room.bytes_most:
                    raise _too_large(room)
                more = message.get("more_body", False)
    except TimeoutError as fault:
        message_ = f"The body did not arrive within {seconds:g} s; nothing was recorded."
        raise ProblemError("too-slow", message_) from fault
    return b"".join(parts)


def replayed(body: bytes, receive: Receive) -> Receive:
    """Returns what gives an application a body that was read before, and afterwards what comes next."""
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again


KEPT_MOST: Final = 10_000
"""Callers and addresses that are remembered; whoever was quiet longest is forgotten first."""


@dataclass(slots=True)
class Buckets:
    """Counts requests by whoever makes them: each has a bucket of tokens that fills steadily and is emptied by asking.

    Attributes:
        rate: how large the bucket is and how fast it fills.
        most: how many are remembered.
    """

    rate: Rate
    most: int = KEPT_MOST
    _kept: OrderedDict[str, tuple[float, float]] = field(default_factory=OrderedDict)

    def take(self, who: str, at: float) -> tuple[int, float]:
        """Returns (requests that are left now, seconds until the next one where none was left, else 0.0).

        Args:
            who: whose bucket.
            at: a monotonic time in seconds.
        """
        left, then = self._kept.pop(who, (float(self.rate.burst), at))
        left = min(float(self.rate.burst), left + max(0.0, at - then) * self.rate.per_s)
        granted = left >= 1
        self._kept[who] = (left - granted, at)
        if len(self._kept) > self.most:
            self._kept.popitem(last=False)
        return (int(left - 1), 0.0) if granted else (0, (1 - left) / self.rate.per_s)


class Rates:
    """Limits how often one asks: by session or token once it has proved itself, before that by source address.

    A credential that nobody accepted yet counts for its address, so that inventing many gains nothing.
    """

    def __init__(self, caller: Rate, stranger: Rate) -> None:
        self._callers = Buckets(caller)
        self._strangers = Buckets(stranger)
        self._known: OrderedDict[bytes, str] = OrderedDict()

    def take(self, credential: bytes | None, address: str, at: float) -> list[tuple[bytes, bytes]]:
        """Returns the headers that say how many requests are left, and counts this one.

        Raises:
            ProblemError: none was left; it says when to come again.
        """
        who = self._known.get(credential) if credential is not None else None
        buckets = self._callers if who is not None else self._strangers
        left, wait_s = buckets.take(who if who is not None else address, at)
        headers = _told(buckets.rate, left)
        if wait_s:
            message = "Too many requests; nothing was recorded."
            sent = {name.decode(): value.decode() for name, value in headers}
            raise ProblemError(
                "too-many-tries", message, headers=sent | {"Retry-After": str(max(1, math.ceil(wait_s)))}
            )
        return headers

    def learn(self, credential: bytes | None, who: str | None, status: int) -> None:
        """Remembers whose credential it is, or forgets what an answer of 401 says is nobody's; others say nothing."""
        if credential is None or (who is None and status != HTTPStatus.UNAUTHORIZED):
            return
        self._known.pop(credential, None)
        if who is not None:
            self._known[credential] = who
            if len(self._known) > KEPT_MOST:
                self._known.popitem(last=False)


def _told(rate: Rate, left: int) -> list[tuple[bytes, bytes]]:
    """Returns both headers of draft-ietf-httpapi-ratelimit-headers in its two-field form (from memory)."""
    window = max(1, math.ceil(rate.burst / rate.per_s))
    full_s = max(1, math.ceil((rate.burst - left) / rate.per_s))
    return [
        (b"ratelimit-policy", f'"{rate.name}";q={rate.burst};w={window}'.encode()),
        (b"ratelimit", f'"{rate.name}";r={left};t={full_s}'.encode()),
    ]


def credential_of(heads: Heads) -> bytes | None:
    """Returns the digest of what a request proves itself with, or None: a token, or a session's or screen's cookie."""
    secret = heads.get(b"authorization")
    if secret is None:
        pairs = [one.strip().partition(b"=") for one in heads.get(b"cookie", b"").split(b";")]
        cookies = {name.removeprefix(b"__Host-"): value for name, _, value in pairs}
        secret = cookies.get(b"session") or cookies.get(b"screen")
    return hashlib.sha256(secret).digest() if secret else None


IPV6_NETWORK: Final = 64
"""Bits of an IPv6 address that name one network; the rest is its owner's to choose (RFC 6177, from memory)."""


def source_of(scope: Scope) -> str:
    """Returns the address that a request comes from; of IPv6 the network, unless an IPv4 address stands in it."""
    client = scope.get("client")
    address = str(client[0]) if client else ""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return address
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.ip_network((int(found), IPV6_NETWORK), strict=False))


class Guard:
    """Lets through to an application only what keeps to the limits; everything else it answers itself."""

    def __init__(self, app: ASGIApp, rules: Rules) -> None:
        self._app = app
        self._rules = rules
        self._rates = Rates(rules.caller, rules.stranger) if rules.caller and rules.stranger else None
        self._large: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        try:
            heads = must_be_in_bounds(scope, self._rules)
            sent = self._rated(scope, heads, send)
            if has_body(heads):
                await self._with_body(scope, receive, sent, heads)
            else:
                await self._app(scope, receive, sent)
        except ProblemError as fault:
            headers = fault.headers | ({"Connection": "close"} if _announces_body(scope) else {})
            await problem(Request(scope), fault.kind, fault.detail, headers=headers, **fault.more)(scope, receive, send)
        except Gone:
            return

    async def _with_body(self, scope: Scope, receive: Receive, send: Send, heads: Heads) -> None:
        room = room_of(scope["path"]) if scope["method"] not in READS else USUAL
        must_fit(heads, room)
        large = room.bytes_most > USUAL.bytes_most and _length(heads) > USUAL.bytes_most
        with self._turn(source_of(scope)) if large else nullcontext():
            body = await whole(receive, room)
            await self._app(scope, replayed(body, receive), send)

    @contextmanager
    def _turn(self, source: str) -> Iterator[None]:
        """Counts one large body of an address while it is held.

        Raises:
            ProblemError: too many are held already.
        """
        if self._large.total() >= LARGE_TOGETHER or self._large[source] >= LARGE_EACH:
            message = "Too many large requests come at once; nothing was recorded."
            raise ProblemError("ledger-busy", message)
        self._large[source] += 1
        try:
            yield
        finally:
            self._large -= Counter((source,))  # whose count is zero is forgotten

    def _rated(self, scope: Scope, heads: Heads, send: Send) -> Send:
        """Returns what sends an answer with its rate beside it, and learns from it whose credential it was."""
        rates = self._rates
        if rates is None:
            return send
        credential = credential_of(heads)
        told = rates.take(credential, source_of(scope), asyncio.get_running_loop().time())

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                rates.learn(credential, caller_of(scope), message["status"])
                message["headers"] = [*message["headers"], *told]
            await send(message)

        return sent


def _announces_body(scope: Scope) -> bool:
    """Tells whether a body may still be on its way, so that nothing after it can be read from this connection."""
    return any(name in {b"content-length", b"transfer-encoding"} for name, _ in scope["headers"])


def _length(heads: Heads) -> float:
    """Returns the announced length of a body; infinite where none is."""
    return int(heads[b"content-length"]) if b"content-length" in heads else math.inf


def caller_of(scope: Scope) -> str | None:
    """Returns who proved to ask, as sign-in left it in the request's state; None before that."""
    caller: Any = scope.get("state", {}).get("caller")
    if caller is None:
        return None
    return f"person:{caller.person}@{caller.station}" if caller.kind == "person" else f"{caller.kind}:{caller.token}"


def names_of(hosts: Iterable[str]) -> frozenset[str]:
    """Returns the names that a node at these addresses answers to; loopback always is among them."""
    return frozenset({"localhost", "127.0.0.1", "::1", *(one.strip("[]").lower() for one in hosts)})
