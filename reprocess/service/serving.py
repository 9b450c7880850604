"""A node on the network: where it listens and how, clients that are too slow or too many, and how it stops.

Loopback is served as it is. Anybody else is served over TLS, or through a proxy that was named; there is no third way.
uvicorn 0.54 speaks HTTP; what it leaves open (a head that never ends, an answer that nobody reads, a stop that waits
for streams) is closed here.
"""

from __future__ import annotations

import asyncio
import gc
import ipaddress
import os
import signal
import socket
import ssl
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Lock, Thread
from types import FrameType
from typing import Any, Final

import orjson
import uvicorn
from fastapi import FastAPI
from uvicorn.protocols.http.h11_impl import H11Protocol

from reprocess.clock import node_name
from reprocess.errors import ReprocessError, WrongUseError
from reprocess.service.edge import Link
from reprocess.service.limits import HEADERS_BYTES, Rate, Rules, names_of
from reprocess.service.problems import KINDS, MEDIA_TYPE
from reprocess.service.served import Served
from reprocess.settings import ServiceSettings

HEAD_S: Final = 5.0
"""Seconds within which the head of a request must be complete."""
IDLE_S: Final = 15
"""Seconds that a connection may stay open between two requests (common practice)."""
HANDSHAKE_S: Final = 10.0
"""Seconds that a TLS handshake may take."""
READ_S: Final = 20.0
"""Seconds that an answer waits for somebody who does not read it."""
LINGER_S: Final = 5.0
"""Seconds that the last bytes of a closed connection may take."""
BACKLOG: Final = 256
FILES_BESIDE: Final = 128
"""File handles that the rest of the process needs (our choice; the database's pool has 16 connections)."""
STARTS_S: Final = 30.0
PARTS: Final = 2
"""One address gets so small a part of all connections at most (our choice: stations may share an address)."""
GARBAGE: Final = (20_000, 20, 50)
"""How many new objects, and then younger collections, before each collection (our choice; CPython's is 700, 10, 10)."""
MANY: Final = "Too many connections are open. Nothing was recorded. Come again."
PAST_PROXY: Final = "This server is asked through its proxy. Nothing was recorded."


@dataclass(frozen=True, slots=True)
class Listening:
    """Is where and how a node listens.

    Attributes:
        host: the address; port: its port, 0 for a free one.
        tls: the certificate and key in use, or None.
        proxies: whose `X-Forwarded-...` headers are believed; empty where clients come themselves.
        fingerprint: the certificate's SHA-256 where we made it ourselves, for pinning.
    """

    host: str
    port: int
    tls: ssl.SSLContext | None = None
    proxies: tuple[str, ...] = ()
    fingerprint: str | None = None

    @property
    def plain(self) -> bool:
        """Tells whether nobody but this computer is served, without TLS."""
        return self.tls is None and not self.proxies

    def is_proxy(self, peer: str) -> bool:
        """Tells whether an address is that of a proxy that was named."""
        return any(_lies_in(peer, ipaddress.ip_network(one)) for one in self.proxies)

    def admits(self, peer: str) -> bool:
        """Tells whether an address may connect: behind a proxy and without TLS only the proxy and this computer."""
        return self.tls is not None or not self.proxies or is_loopback(peer) or self.is_proxy(peer)

    def link(self, settings: ServiceSettings) -> Link:
        """Returns how an application is reached here."""
        rules = Rules(
            names=names_of((self.host, node_name(), *settings.names)),
            caller=Rate("caller", settings.rate_per_s, settings.burst),
            stranger=Rate("address", settings.unknown_per_s, settings.unknown_burst),
        )
        return Link(rules, tls=not self.plain, logged=True)


def _lies_in(peer: str, network: ipaddress.IPv4Network | ipaddress.IPv6Network) -> bool:
    try:
        found = ipaddress.ip_address(peer)
    except ValueError:
        return False
    return found in network


def must_be_reached_safely(host: str, *, tls: bool, proxies: tuple[str, ...]) -> None:
    """Refuses an address that others could ask without TLS, and proxies that are no addresses.

    Raises:
        WrongUseError: either of them.
    """
    for one in proxies:
        try:
            ipaddress.ip_network(one)
        except ValueError as fault:
            message = f"A proxy is named by its address or network, not {one[:64]!r}."
            raise WrongUseError(message) from fault
    if tls or proxies or is_loopback(host):
        return
    message = (
        f"{host} can be reached by others: add --certificate and --key-file, or --self-signed, or --behind-proxy with "
        "the proxy's address. Without them only 127.0.0.1 is served."
    )
    raise WrongUseError(message)


def is_loopback(host: str) -> bool:
    """Tells whether only this computer reaches an address."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def tls_of(certificate: Path, key: Path) -> ssl.SSLContext:
    """Returns how TLS is spoken with a certificate: version 1.2 or newer.

    Raises:
        WrongUseError: the files cannot be read, or do not belong together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except (OSError, ssl.SSLError) as fault:
        message = f"{certificate.name} and {key.name} cannot be used as a certificate and its key, in PEM."
        raise WrongUseError(message) from fault
    return context


def _no_password() -> str:
    """Refuses a key that asks for a password: a node starts without anybody at its terminal."""
    message = "The key asks for a password."
    raise OSError(message)


@contextmanager
def stopping() -> Iterator[Event]:
    """Yields an event that is set when the process is first asked to end; the second time it ends at once."""
    stop = Event()

    def ask_to_stop(number: int, frame: FrameType | None) -> None:
        del frame
        if stop.is_set():
            signal.signal(number, signal.SIG_DFL)
            signal.raise_signal(number)
        stop.set()

    before = {number: signal.signal(number, ask_to_stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def bound(listening: Listening) -> socket.socket:
    """Returns a socket that listens.

    Raises:
        WrongUseError: the address is not this computer's, or the port is taken.
    """
    family = socket.AF_INET6 if ":" in listening.host else socket.AF_INET
    try:
        return socket.create_server((listening.host, listening.port), family=family, backlog=BACKLOG)
    except OSError as fault:
        why = os.strerror(fault.errno or 0)
        message = f"Port {listening.port} at {listening.host} cannot be used: {why}. Choose another --port."
        raise WrongUseError(message) from fault


def address_of(listening: Listening, listens: socket.socket) -> str:
    """Returns the address under which a node is asked on this computer."""
    host = f"[{listening.host}]" if ":" in listening.host else listening.host
    return f"{'https' if listening.tls else 'http'}://{host}:{listens.getsockname()[1]}"


@contextmanager
def serving(app: FastAPI, listening: Listening, listens: socket.socket, stop: Event) -> Iterator[None]:
    """Serves an application in a thread of its own; at the end, what is in work is finished within its time.

    Args:
        app: the application, with its parts.
        listening: where and how.
        listens: the bound socket; it is closed at the end.
        stop: set when the node fails, so that whoever waits for it stops waiting.

    Raises:
        ReprocessError: the node failed.
    """
    parts: Served = app.state.served
    parts.parts["plain"] = listening.plain
    server = _Server(app, listening, listens, parts)
    thread = Thread(target=server.run_until_stopped, args=(stop,), name="serving", daemon=True)
    with _settled():
        thread.start()
        try:
            if not server.ready.wait(STARTS_S):
                message = "The node did not start in time."
                raise ReprocessError(message)
            yield
        finally:
            server.end()
            thread.join()
            listens.close()
    if server.fault is not None:
        message = "The node has failed and serves no more."
        raise ReprocessError(message) from server.fault


@contextmanager
def _settled() -> Iterator[None]:
    """Lets Python look for garbage among what is made from now on, and less often, until the block ends.

    Routes and schemas are some hundred thousand objects that stay as long as the node does; to look through them again
    and again took a third of the time of a scan (measured).
    """
    with _SETTLING:
        if not _SETTLED:
            gc.collect()
            gc.freeze()
            _SETTLED.append(gc.get_threshold())
            gc.set_threshold(*GARBAGE)
        else:
            _SETTLED.append(_SETTLED[0])  # another node of this process came first
    try:
        yield
    finally:
        with _SETTLING:
            before = _SETTLED.pop()
            if not _SETTLED:
                gc.set_threshold(*before)
                gc.unfreeze()


_SETTLING: Final = Lock()
_SETTLED: Final[list[tuple[int, int, int]]] = []
"""The thresholds before, once for each node that this process serves; the last one to end puts them back."""


class _Server(uvicorn.Server):
    """Is uvicorn's server on our socket; streams are told to end as soon as it stops."""

    def __init__(self, app: FastAPI, listening: Listening, listens: socket.socket, parts: Served) -> None:
        settings = parts.settings.service
        config = uvicorn.Config(
            app,
            loop="asyncio",
            http=_protocol(connections_most(settings.connections_most), listening),
            ws="none",
            lifespan="on",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=bool(listening.proxies),
            forwarded_allow_ips=list(listening.proxies),
            timeout_keep_alive=IDLE_S,
            timeout_graceful_shutdown=settings.stop_s,
            h11_max_incomplete_event_size=HEADERS_BYTES + 8 * 1024,
        )
        super().__init__(config)
        self.ready = Event()
        self.fault: BaseException | None = None
        self._tls = listening.tls
        self._listens = listens
        self._stopping = parts.stopping
        self._loop: asyncio.AbstractEventLoop | None = None

    def run_until_stopped(self, stop: Event) -> None:
        """Serves until it is told to end; what fails is kept for whoever waits."""
        try:
            asyncio.run(self.serve())
        except BaseException as fault:
            self.fault = fault
        finally:
            stop.set()
            self.ready.set()

    def end(self) -> None:
        """Tells streams and readiness at once that the node stops, and lets it stop; any thread may call it."""
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._stopping.set)
        self.should_exit = True

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Starts to listen."""
        del sockets
        self._loop = asyncio.get_running_loop()
        await self.lifespan.startup()
        listener = await self._loop.create_server(
            self._connection,
            sock=self._listens,
            ssl=self._tls,
            backlog=BACKLOG,
            ssl_handshake_timeout=HANDSHAKE_S if self._tls else None,
            ssl_shutdown_timeout=LINGER_S if self._tls else None,
        )
        self.servers = [listener]
        self.started = True
        self.ready.set()

    def _connection(self) -> asyncio.Protocol:
        kind: Any = self.config.http_protocol_class
        connection: asyncio.Protocol = kind(
            config=self.config, server_state=self.server_state, app_state=self.lifespan.state
        )
        return connection

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Takes no more connections, ends streams, finishes what is in work within its time."""
        self._stopping.set()
        await super().shutdown(sockets)


def connections_most(wanted: int) -> int:
    """Returns how many connections this process can hold open; it asks for the file handles that they need."""
    if sys.platform == "win32":
        return wanted
    import resource  # noqa: PLC0415 - there is none on Windows

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = wanted + FILES_BESIDE if hard == resource.RLIM_INFINITY else min(wanted + FILES_BESIDE, hard)
    if soft != resource.RLIM_INFINITY and soft < most:
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
        soft = most
    return wanted if soft == resource.RLIM_INFINITY else max(1, min(wanted, soft - FILES_BESIDE))


def _protocol(most: int, listening: Listening) -> type[asyncio.Protocol]:
    return type("Connection", (_Connection,), {"most": most, "listening": listening})


class _Connection(H11Protocol):
    """Is one connection: it is cut off when a head does not come, nobody reads, or too many are open."""

    most: int
    listening: Listening

    def connection_made(self, transport: Any) -> None:
        """Begins; a connection beyond what is held open is told so and closed."""
        self._head: asyncio.TimerHandle | None = None
        self._unread: asyncio.TimerHandle | None = None
        _send_at_once(transport)
        super().connection_made(transport)
        peer = self.client[0] if self.client is not None else ""
        if not self.listening.admits(peer):
            transport.write(_answer(403, "not-allowed", PAST_PROXY))
            self._close()
        elif len(self.connections) > self.most or self._of(peer) > max(1, self.most // PARTS):
            transport.write(_answer(503, "ledger-busy", MANY, b"Retry-After: 5\r\n"))
            self._close()
        else:
            self._watch_head()

    def _of(self, peer: str) -> int:
        """Returns how many connections are open to one address; those to a proxy are to many people and not counted."""
        if self.listening.is_proxy(peer):
            return 0
        clients = (getattr(one, "client", None) for one in self.connections)
        return sum(one is not None and one[0] == peer for one in clients)

    def data_received(self, data: bytes) -> None:
        """Takes what came; a head must be complete soon after its first byte."""
        if self.transport.is_closing():
            return
        super().data_received(data)
        self._watch_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Ends."""
        self._head = _cancelled(self._head)
        self._unread = _cancelled(self._unread)
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        """Waits for somebody who does not read what was sent, but not for ever."""
        super().pause_writing()
        self._unread = self._unread or self.loop.call_later(READ_S, self.transport.abort)

    def resume_writing(self) -> None:
        """Goes on."""
        if not self.transport.is_closing():
            self._unread = _cancelled(self._unread)
        super().resume_writing()

    def on_response_complete(self) -> None:
        """Makes ready for the next request, or closes."""
        super().on_response_complete()
        if self.transport.is_closing():
            self._close()

    def timeout_keep_alive_handler(self) -> None:
        """Closes a connection on which nothing came for a while."""
        super().timeout_keep_alive_handler()
        self._close()

    def shutdown(self) -> None:
        """Closes an idle connection, and one in work after its answer."""
        super().shutdown()
        if self.transport.is_closing():
            self._close()

    def send_400_response(self, msg: str) -> None:
        """Answers what is no HTTP, or a head that is too large (h11 says which), and closes."""
        hint = getattr(sys.exc_info()[1], "error_status_hint", 400)
        kind = "header-too-large" if hint == KINDS["header-too-large"].status else "malformed"
        self.transport.write(_answer(KINDS[kind].status, kind, f"{msg} Nothing was recorded."))
        self._close()

    def _watch_head(self) -> None:
        """Sets the time for a head while one is missing, and lets it go when it is there."""
        cycle: Any = self.cycle  # None before the first request
        if self.transport.is_closing() or (cycle is not None and not cycle.response_complete):
            self._head = _cancelled(self._head)
        elif self._head is None and self.timeout_keep_alive_task is None:
            self._head = self.loop.call_later(HEAD_S, self._too_slow)
        elif self._head is not None and self.timeout_keep_alive_task is not None:
            self._head = _cancelled(self._head)

    def _too_slow(self) -> None:
        if not self.transport.is_closing():
            self.transport.write(_answer(408, "too-slow", "The head of the request came too slowly."))
            self._close()

    def _close(self) -> None:
        """Closes, and makes sure of it: whoever does not read the rest is cut off."""
        self.transport.close()
        self._unread = self._unread or self.loop.call_later(LINGER_S, self.transport.abort)


def _send_at_once(transport: asyncio.Transport) -> None:
    """Lets the second part of an answer not wait for the first to be acknowledged (RFC 1122, section 4.2.3.4).

    Measured on loopback: without it each answer took 44 ms. The event loop sets this by itself only for sockets that
    name their protocol, and those accepted from ours do not.
    """
    connection = transport.get_extra_info("socket")
    if connection is not None:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def _cancelled(timer: asyncio.TimerHandle | None) -> asyncio.TimerHandle | None:
    """Returns no timer any more."""
    if timer is not None:
        timer.cancel()
    return None


def _answer(status: int, kind: str, detail: str, headers: bytes = b"") -> bytes:
    """Returns a whole answer, for a connection of which no request was read."""
    sort = KINDS[kind]
    told = {"type": f"/v1/problems/{kind}", "title": sort.title, "status": status, "detail": detail}
    body = orjson.dumps(told)
    head = f"HTTP/1.1 {status} {sort.title}\r\nContent-Type: {MEDIA_TYPE}\r\nContent-Length: {len(body)}\r\n"
    return head.encode() + headers + b"Connection: close\r\n\r\n" + body
