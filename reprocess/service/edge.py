"""What every request goes through, outermost: its id, the headers of its answer, its line in the log and its count."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from fastapi import FastAPI
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from reprocess.service import logs
from reprocess.service.limits import INTERFACE, Guard, Rules
from reprocess.service.metrics import METHODS, counts_of
from reprocess.service.served import Served

NOTHING_LOADED: Final = b"default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
OWN_LOADED: Final = (
    b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self';"
    b" connect-src 'self'; manifest-src 'self'; worker-src 'self'; media-src 'self';"
    b" frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)
"""What a page may load and do (W3C, Content Security Policy Level 3): its own files, no script within the page."""
ALWAYS: Final = (
    (b"x-content-type-options", b"nosniff"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
)
TLS_ONLY: Final = (b"strict-transport-security", b"max-age=31536000")
"""One year (RFC 6797; the length is common practice)."""


@dataclass(frozen=True, slots=True)
class Link:
    """Is how an application is reached.

    Attributes:
        rules: what is checked of every request.
        tls: whether whoever asks is connected by TLS, here or at the proxy before this node.
        logged: whether requests have lines in the log; an application inside a test has none.
    """

    rules: Rules = field(default_factory=Rules)
    tls: bool = False
    logged: bool = False


INSIDE: Final = Link()
"""An application that is asked within its own process: it has no name, and meets no strangers."""


class Application(FastAPI):
    """Is the application behind its edge: nothing reaches a route, or leaves one, on another way."""

    def build_middleware_stack(self) -> ASGIApp:
        """Returns what answers requests."""
        link: Link = self.state.link
        return Edge(Guard(super().build_middleware_stack(), link.rules), self.state.served, link)


class Edge:
    """Gives each request an id, and its answer the headers that every answer has; counts and logs it."""

    def __init__(self, app: ASGIApp, parts: Served, link: Link) -> None:
        self._app = app
        self._new_id: Callable[[], str] = parts.department.clock.new_id
        self._counts = counts_of(parts)
        self._logged = link.logged
        self._more = (*ALWAYS, TLS_ONLY) if link.tls else ALWAYS

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answers one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        now = asyncio.get_running_loop().time
        began, seconds, status = now(), 0.0, 0
        scope["request_id"] = self._new_id()
        scope.setdefault("state", {})

        async def sent(message: Message) -> None:
            nonlocal seconds, status
            if message["type"] == "http.response.start":
                seconds, status = now() - began, message["status"]
                message["headers"] = self._headers(scope, message)
            await send(message)

        self._counts.open += 1
        try:
            await self._app(scope, receive, sent)
        except Exception as fault:
            if not self._logged:
                raise
            logs.tell_fault("fault", fault, request_id=scope["request_id"], route=route_of(scope))
            if not status:
                raise
        finally:
            self._counts.open -= 1
            if status:
                self._counts.answered(scope["method"], route_of(scope), status, seconds)
            if self._logged:
                self._tell(scope, status, now() - began)

    def _headers(self, scope: Scope, message: Message) -> list[tuple[bytes, bytes]]:
        """Returns an answer's headers with those that are missing."""
        found: list[tuple[bytes, bytes]] = list(message.get("headers", ()))
        have = {name.lower() for name, _ in found}
        data = scope["path"].startswith(INTERFACE)
        wanted = (
            *self._more,
            (b"x-request-id", scope["request_id"].encode()),
            (b"content-security-policy", NOTHING_LOADED if data else OWN_LOADED),
            (b"cache-control", b"no-store" if data else b"no-cache"),
            # A page says to its own server, and to nobody else, where a form was sent from.
            (b"referrer-policy", b"no-referrer" if data else b"same-origin"),
        )
        return found + [(name, value) for name, value in wanted if name not in have]

    def _tell(self, scope: Scope, status: int, seconds: float) -> None:
        caller: Any = scope["state"].get("caller")
        logs.tell(
            "request" if status else "request-left",
            request_id=scope["request_id"],
            method=scope["method"] if scope["method"] in METHODS else "other",
            route=route_of(scope),
            status=status,
            ms=round(seconds * 1000, 1),
            caller=caller.kind if caller is not None else "nobody",
        )


def route_of(scope: Scope) -> str:
    """Returns the template of the route that answered, such as `/v1/items/{item}`; never what stood in its place."""
    context = scope.get("fastapi", {}).get("effective_route_context") or scope.get("route")
    return str(getattr(context, "path_format", None) or "none")
