"""A node on loopback: what it refuses to serve, how it stops, TLS, and clients that are too slow or too many."""

from __future__ import annotations

import hashlib
import http.client
import json
import re
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from threading import Event
from typing import Any

import pytest
import uvicorn
from cryptography import x509
from starlette.requests import Request

from reprocess.clock import clock_path
from reprocess.commandline.serve import serve
from reprocess.errors import WrongUseError
from reprocess.service import certificate, serving
from reprocess.service.app import create_app
from reprocess.service.serving import HEAD_S, LINGER_S, READ_S, Listening, _protocol
from reprocess.settings import ServiceSettings, Settings
from tests.faults.crashing import copied
from tests.service.conftest import Bench

CLONE = Path(__file__).resolve().parents[2]
Connect = Callable[[], http.client.HTTPConnection]


@pytest.mark.parametrize(
    "options",
    [
        {"host": "0.0.0.0"},  # noqa: S104 - it is refused
        {"host": "192.0.2.1"},
        {"host": "node.example"},
        {"host": "::"},
        {"certificate": Path("a.pem")},
        {"key_file": Path("a.key")},
        {"certificate": Path("a.pem"), "key_file": Path("a.key"), "self_signed": True},
        {"behind_proxy": ["*"]},
        {"behind_proxy": ["proxy.example"]},
        {"reminders_only": True, "self_signed": True},
        {"reminders_only": True, "demo": True},
    ],
)
def test_what_others_could_read_is_not_served(options: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(WrongUseError) as told:
        serve(department=tmp_path / "department.db", **options)
    assert told.value.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_a_certificate_that_is_none_is_refused_in_a_sentence(day_over: Path, tmp_path: Path) -> None:
    path = copied(day_over, tmp_path / "copy")
    for name in ("a.pem", "a.key"):
        (tmp_path / name).write_text("no certificate", encoding="ascii")
    with pytest.raises(WrongUseError, match=r"a\.pem and a\.key cannot be used"):
        serve(department=path, certificate=tmp_path / "a.pem", key_file=tmp_path / "a.key", port=0)


def test_a_demo_and_a_department_are_not_taken_for_each_other(day_over: Path, tmp_path: Path) -> None:
    path = copied(day_over, tmp_path / "copy")
    with pytest.raises(WrongUseError, match="is a department, not a demo"):
        serve(department=path, demo=True, port=0)
    clock_path(path).write_text("1772694300000000 1000000000 0\n", encoding="ascii")
    with pytest.raises(WrongUseError, match="is a demo; `reprocess serve --demo"):
        serve(department=path, port=0)


def test_a_port_that_is_taken_is_told(day_over: Path, tmp_path: Path) -> None:
    path = copied(day_over, tmp_path / "copy")
    with socket.create_server(("127.0.0.1", 0)) as taken, pytest.raises(WrongUseError, match="Address already in use"):
        serve(department=path, port=taken.getsockname()[1])


@contextmanager
def node(path: Path, stop_s: int) -> Iterator[tuple[subprocess.Popen[str], Connect]]:
    """A node in a process of its own, and what connects to it."""
    command = [sys.executable, "-m", "tests.service.stopping_node", str(path), str(stop_s)]
    with subprocess.Popen(command, cwd=CLONE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        port = int(process.stdout.readline().rpartition(":")[2])
        with ExitStack() as stack:
            stack.callback(process.kill)

            def connect() -> http.client.HTTPConnection:
                return stack.enter_context(closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)))

            yield process, connect


def begun(process: subprocess.Popen[str], connection: http.client.HTTPConnection, path: str) -> None:
    """Sends a request and returns when it is in work."""
    connection.request("GET", path)
    assert process.stdout is not None
    assert process.stdout.readline() == path[1:] + "\n"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_node_that_is_asked_to_stop_ends_streams_and_finishes_what_is_in_work(
    day_over: Path, tmp_path: Path, number: signal.Signals
) -> None:
    with node(copied(day_over, tmp_path / "copy"), 10) as (process, connect):
        stream = connect()
        stream.request("GET", "/stream")
        opened = stream.getresponse()
        assert opened.readline() == b"open\n"
        slow = connect()
        begun(process, slow, "/slow")
        idle = connect()
        idle.request("GET", "/v1/health/live")
        idle.getresponse().read()
        process.send_signal(number)
        assert opened.read() == b"end\n"
        assert json.loads(slow.getresponse().read()) == {"done": True}
        assert process.wait(timeout=5) == 0
        assert process.stdout is not None
        assert process.stdout.read() == "waiting 0\n"
        with pytest.raises(ConnectionRefusedError):
            connect().connect()


def test_what_does_not_end_is_given_up_after_its_time(day_over: Path, tmp_path: Path) -> None:
    with node(copied(day_over, tmp_path / "copy"), 0) as (process, connect):
        begun(process, connect(), "/stubborn")
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=5) == 0


def test_the_second_signal_ends_at_once(day_over: Path, tmp_path: Path) -> None:
    with node(copied(day_over, tmp_path / "copy"), 300) as (process, connect):
        begun(process, connect(), "/stubborn")
        stream = connect()
        stream.request("GET", "/stream")
        opened = stream.getresponse()
        process.send_signal(signal.SIGTERM)
        assert opened.read() == b"open\nend\n"  # the first signal has arrived
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=5) == -signal.SIGTERM


@contextmanager
def listening(served: Bench, how: Listening) -> Iterator[int]:
    """The served department on a port of this computer."""
    settings = Settings(service=ServiceSettings(stop_s=1))
    app = create_app(served.department, settings, how.link(settings.service))
    with serving.bound(how) as listens:
        port: int = listens.getsockname()[1]
        with serving.serving(app, how, listens, Event()):
            yield port


def test_over_tls_the_fingerprint_to_pin_is_that_of_the_certificate(served: Bench, tmp_path: Path) -> None:
    made = certificate.beside(tmp_path / "department.db", ["localhost", "127.0.0.1"], 1_772_694_300)
    how = Listening("127.0.0.1", 0, serving.tls_of(made.certificate, made.key), fingerprint=made.fingerprint)
    trusting = ssl.create_default_context(cafile=made.certificate)
    # The certificate was made at a fixed time; here only its bytes, its names and the protocol are looked at.
    trusting.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
    with (
        listening(served, how) as port,
        closing(http.client.HTTPSConnection("127.0.0.1", port, timeout=10, context=trusting)) as connection,
    ):
        connection.connect()
        tls = connection.sock
        assert isinstance(tls, ssl.SSLSocket)
        sent = tls.getpeercert(binary_form=True)
        assert tls.version() in {"TLSv1.2", "TLSv1.3"}
        connection.request("GET", "/v1/health/live")
        answer = connection.getresponse()
        answer.read()
    assert sent is not None
    assert made.fingerprint == hashlib.sha256(sent).digest().hex(":").upper()
    assert answer.getheader("Strict-Transport-Security") == "max-age=31536000"


def test_tls_is_spoken_from_version_1_2_on(tmp_path: Path) -> None:
    made = certificate.beside(tmp_path / "department.db", ["localhost"], 1_772_694_300)
    # RFC 8996 (BCP 195): TLS 1.0 and 1.1 must not be used.
    assert serving.tls_of(made.certificate, made.key).minimum_version == ssl.TLSVersion.TLSv1_2


def test_a_certificate_of_ones_own_is_kept_until_it_runs_out_and_its_key_is_private(tmp_path: Path) -> None:
    path, at_s = tmp_path / "department.db", 1_772_694_300
    made = certificate.beside(path, ["node.example", "127.0.0.1"], at_s)
    assert certificate.beside(path, ["node.example"], at_s + 360 * 86_400) == made
    read = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    names = read.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == ["node.example"]
    assert [str(one) for one in names.get_values_for_type(x509.IPAddress)] == ["127.0.0.1"]
    assert read.not_valid_after_utc - read.not_valid_before_utc < timedelta(days=398)
    assert made.key.stat().st_mode & 0o077 == 0
    assert certificate.beside(path, ["node.example"], at_s + 380 * 86_400).fingerprint != made.fingerprint
    made.certificate.write_text("none", encoding="ascii")
    with pytest.raises(WrongUseError, match="is no certificate"):
        certificate.beside(path, ["node.example"], at_s)


def raw(port: int, request: bytes) -> bytes:
    """Everything that is answered to these bytes until the connection closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=10) as connection:
        connection.sendall(request)
        parts = []
        while part := connection.recv(65_536):
            parts.append(part)
        return b"".join(parts)


@pytest.mark.parametrize(
    ("request_", "status", "kind"),
    [
        (b"this is no HTTP\r\n\r\n", 400, "malformed"),
        (b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Long: " + b"a" * 40_000, 431, "header-too-large"),
        (
            b"POST /v1/x HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n",
            400,
            "malformed",
        ),
        (
            b"POST /v1/x HTTP/1.1\r\nHost: [::1]\r\nContent-Type: application/json\r\nContent-Length: 70000\r\n\r\n",
            413,
            "too-large",
        ),
        (b"GET /docs HTTP/1.1\r\nHost: attacker.example\r\nConnection: close\r\n\r\n", 400, "malformed"),
    ],
)
def test_what_is_no_request_is_a_problem_and_the_connection_closes(
    served: Bench, request_: bytes, status: int, kind: str
) -> None:
    with listening(served, Listening("127.0.0.1", 0)) as port:
        told = raw(port, request_)
    assert told.startswith(f"HTTP/1.1 {status} ".encode())
    assert f"/v1/problems/{kind}".encode() in told
    assert b"application/problem+json" in told


def test_only_a_named_proxy_says_who_asks_and_how(served: Bench) -> None:
    def scheme(proxies: tuple[str, ...]) -> str:
        how = Listening("127.0.0.1", 0, proxies=proxies)
        settings = Settings(service=ServiceSettings(stop_s=1))
        app = create_app(served.department, settings, how.link(settings.service))

        @app.get("/seen")
        def seen(request: Request) -> str:
            return f"{request.client.host if request.client else ''} {request.url.scheme}"

        with serving.bound(how) as listens, serving.serving(app, how, listens, Event()):
            forwarded = {"X-Forwarded-For": "198.51.100.9", "X-Forwarded-Proto": "https"}
            port = listens.getsockname()[1]
            with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as connection:
                connection.request("GET", "/seen", headers=forwarded)
                return str(json.loads(connection.getresponse().read()))

    assert scheme(()) == "127.0.0.1 http"
    assert scheme(("192.0.2.0/24",)) == "127.0.0.1 http"
    assert scheme(("127.0.0.1",)) == "198.51.100.9 https"


@dataclass
class Timer:
    """Is a timer that goes off when a test says so."""

    seconds: float
    act: Callable[[], None]
    gone: bool = False

    def cancel(self) -> None:
        self.gone = True


class Task:
    """Is work that never ends."""

    def add_done_callback(self, act: Callable[[Any], None]) -> None:
        """Is never called back."""


@dataclass
class Loop:
    """Is the part of an event loop that a connection uses: it keeps timers and begins nothing."""

    timers: list[Timer] = field(default_factory=list)

    def call_later(self, seconds: float, act: Callable[[], None]) -> Timer:
        self.timers.append(Timer(seconds, act))
        return self.timers[-1]

    def create_task(self, work: Any) -> Task:
        work.close()
        return Task()

    @property
    def set(self) -> list[float]:
        """The timers that are set."""
        return [one.seconds for one in self.timers if not one.gone]


@dataclass
class Wire:
    """Is a connection's other side."""

    peer: str = "192.0.2.7"
    written: bytes = b""
    closing: bool = False
    cut: bool = False

    def write(self, data: bytes) -> None:
        self.written += data

    def close(self) -> None:
        self.closing = True

    def abort(self) -> None:
        self.cut = True

    def is_closing(self) -> bool:
        return self.closing

    def get_extra_info(self, name: str) -> Any:
        return (self.peer, 50_000) if name == "peername" else None

    def pause_reading(self) -> None:
        """Goes on."""

    resume_reading = pause_reading


PLAIN = Listening("127.0.0.1", 0)


class Line:
    """Is one connection without a network."""

    def __init__(self, most: int = 10, state: Any = None, peer: str = "192.0.2.7", how: Listening = PLAIN) -> None:
        self.loop, self.wire = Loop(), Wire(peer)
        config = uvicorn.Config(lambda: None, ws="none", log_config=None, lifespan="off")
        config.load()
        self.state = state or uvicorn.server.ServerState()
        kind: Any = _protocol(most, how)
        self.connection = kind(config=config, server_state=self.state, app_state={}, _loop=self.loop)
        self.connection.connection_made(self.wire)


def test_a_head_that_does_not_come_is_not_waited_for() -> None:
    line = Line()
    assert line.loop.set == [HEAD_S]
    line.connection.data_received(b"GET / HTTP/1.1\r\nHo")
    line.connection.data_received(b"st: a\r\n")
    assert line.loop.set == [HEAD_S]  # one for the whole head, not anew with each byte
    line.loop.timers[0].act()
    assert line.wire.written.startswith(b"HTTP/1.1 408 ")
    assert line.wire.closing
    assert line.loop.set[-1] == LINGER_S
    line.loop.timers[-1].act()
    assert line.wire.cut


def test_a_head_that_is_there_is_waited_for_no_more() -> None:
    line = Line()
    line.connection.data_received(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
    assert line.loop.set == []


def test_whoever_does_not_read_is_cut_off_in_time() -> None:
    line = Line()
    line.connection.data_received(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n")
    line.connection.pause_writing()
    assert line.loop.set == [READ_S]
    line.connection.resume_writing()
    assert line.loop.set == []
    line.connection.pause_writing()
    line.loop.timers[-1].act()
    assert line.wire.cut


def test_one_connection_too_many_is_told_and_closed() -> None:
    first = Line(most=1)
    second = Line(most=1, state=first.state)
    assert not first.wire.closing
    assert second.wire.closing
    head, _, body = second.wire.written.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 503 ")
    assert b"Retry-After: 5" in head
    assert re.search(rb"Content-Length: (\d+)", head)[1] == str(len(body)).encode()  # type: ignore[index]
    assert json.loads(body)["status"] == 503


def test_one_address_takes_no_more_than_half_of_all_connections() -> None:
    """I19: whoever holds as many as it gets open keeps nobody else out; behind a proxy everybody has its address."""
    first = Line(most=4)
    same = [Line(most=4, state=first.state) for _ in range(2)]
    other = Line(most=4, state=first.state, peer="192.0.2.8")
    assert [one.wire.closing for one in (first, *same, other)] == [False, False, True, False]
    behind = Listening("0.0.0.0", 0, proxies=("192.0.2.0/24",))  # noqa: S104 - nothing listens
    proxied = Line(most=4, how=behind)
    more = [Line(most=4, state=proxied.state, how=behind) for _ in range(4)]
    assert [one.wire.closing for one in (proxied, *more)] == [False, False, False, False, True]


@pytest.mark.parametrize(
    ("peer", "how", "closed"),
    [
        ("192.0.2.7", Listening("0.0.0.0", 0, proxies=("192.0.2.0/24",)), False),  # noqa: S104
        ("127.0.0.1", Listening("0.0.0.0", 0, proxies=("192.0.2.0/24",)), False),  # noqa: S104
        ("198.51.100.9", Listening("0.0.0.0", 0, proxies=("192.0.2.0/24",)), True),  # noqa: S104
        ("2001:db8::1", Listening("::", 0, proxies=("192.0.2.0/24",)), True),
        ("198.51.100.9", Listening("0.0.0.0", 0, ssl.create_default_context(), ("192.0.2.0/24",)), False),  # noqa: S104
    ],
)
def test_without_tls_nobody_goes_past_the_proxy(peer: str, how: Listening, *, closed: bool) -> None:
    """I24: TLS for every address but loopback, and be it at the proxy; what would come past it comes in the clear."""
    line = Line(peer=peer, how=how)
    assert line.wire.closing is closed
    assert line.wire.written.startswith(b"HTTP/1.1 403 ") is closed


def test_a_demo_is_served_with_tokens_to_try_and_time_runs_on(tmp_path: Path) -> None:
    path = tmp_path / "try.db"
    command = [sys.executable, "-m", "reprocess", "serve", "--demo", "--port", "0", "-d", str(path), "--self-signed"]
    with subprocess.Popen(command, cwd=CLONE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        said = ""
        while "Ctrl-C" not in said:
            line = process.stderr.readline()
            assert line, said
            said += line
        port = int(re.findall(r"https://127\.0\.0\.1:(\d+) ", said)[0])
        token = re.findall(r"everything: (rpt_\w+)", said)[0]
        context = ssl.create_default_context(cafile=path.with_name("try.db.certificate.pem"))
        with closing(http.client.HTTPSConnection("localhost", port, timeout=20, context=context)) as connection:
            connection.request("GET", "/v1/health", headers={"Authorization": f"Bearer {token}"})
            answer = connection.getresponse()
            health = json.loads(answer.read())
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=10)
    assert process.returncode == 0
    assert (answer.status, health["ready"]) == (200, True)
    assert "Fictional data" in said
    assert token not in clock_path(path).read_text(encoding="ascii")
