"""A web server and a mail server on the loopback address, each for a few exchanges; they keep what they were given."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, HTTPServer
from threading import Thread


@dataclass
class Web:
    """Is the web server: what it answers next, and what it was sent."""

    port: int = 0
    answers: list[int] = field(default_factory=list)
    got: list[tuple[str, dict[str, str], bytes]] = field(default_factory=list)


@contextmanager
def web_server(*answers: int) -> Iterator[Web]:
    """Yields a server that answers so, one after the other, and 204 afterwards."""
    web = Web(answers=list(answers))

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            web.got.append((self.path, {name.lower(): value for name, value in self.headers.items()}, body))
            status = web.answers.pop(0) if web.answers else 204
            self.send_response(status)
            if 300 <= status < 400:
                self.send_header("location", f"http://127.0.0.1:{web.port}/elsewhere")
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:
            del format, args

    server = HTTPServer(("127.0.0.1", 0), Handler)
    web.port = server.server_address[1]
    with _running(server.serve_forever, server.shutdown):
        yield web
    server.server_close()


INTERIM_MOST = 300_000
"""So many interim answers take seconds to read, and then the answer comes all the same."""


@contextmanager
def interim_server() -> Iterator[int]:
    """Yields the port of a server that answers one request with interim answers, and with a 204 after very many."""
    listening = socket.create_server(("127.0.0.1", 0))
    listening.settimeout(20)

    def serve() -> None:
        with suppress(OSError):
            connection, _ = listening.accept()
            with connection:
                for _ in range(INTERIM_MOST // 1_000):
                    connection.sendall(b"HTTP/1.1 100 Continue\r\n\r\n" * 1_000)
                connection.sendall(b"HTTP/1.1 204 No Content\r\n\r\n")

    with listening, _running(serve, lambda: None):
        yield listening.getsockname()[1]


@dataclass
class Post:
    """Is the mail server: what it was given, and the addresses that it does not know."""

    port: int = 0
    letters: list[bytes] = field(default_factory=list)
    strangers: tuple[str, ...] = ()
    verbs: list[str] = field(default_factory=list)


@contextmanager
def mail_server(*strangers: str) -> Iterator[Post]:
    """Yields a server that speaks as much SMTP (RFC 5321) as a letter needs, without TLS."""
    post = Post(strangers=strangers)
    listening = socket.create_server(("127.0.0.1", 0))
    listening.settimeout(20)
    post.port = listening.getsockname()[1]

    def serve() -> None:
        while True:
            try:
                connection, _ = listening.accept()
            except OSError:
                return
            with connection, connection.makefile("rb") as said, suppress(ConnectionError):
                _converse(post, connection, said)

    def close() -> None:
        listening.shutdown(socket.SHUT_RDWR)
        listening.close()

    with _running(serve, close):
        yield post


def _converse(post: Post, connection: socket.socket, said: Iterator[bytes]) -> None:
    connection.sendall(b"220 sink\r\n")
    for line in said:
        verb = line.split()[0].upper().decode(errors="replace") if line.split() else ""
        post.verbs.append(verb)
        if verb == "DATA":
            connection.sendall(b"354 go on\r\n")
            text = b""
            for part in said:
                if part == b".\r\n":
                    break
                text += part
            post.letters.append(text)
            connection.sendall(b"250 taken\r\n")
        elif verb == "RCPT" and any(one.encode() in line for one in post.strangers):
            connection.sendall(b"550 not here\r\n")
        elif verb == "QUIT":
            connection.sendall(b"221 bye\r\n")
            return
        else:
            connection.sendall(b"250 sink\r\n")


@contextmanager
def _running(serve: Callable[[], None], stop: Callable[[], None]) -> Iterator[None]:
    thread = Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop()
        thread.join(20)
