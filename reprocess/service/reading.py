"""JSON from outside, read strictly: no name twice, no number that is none, no nesting without end (RFC 8259, I18)."""

from __future__ import annotations

import json
from collections.abc import Callable, Coroutine
from typing import Any, Final

from fastapi.routing import APIRoute
from starlette.requests import Request
from starlette.responses import Response

from reprocess.service.problems import ProblemError

DEPTH_MAX: Final = 32
"""Nesting that is read (our choice; no schema of ours nests deeper than six)."""
DIGITS_MAX: Final = 30
"""Digits of one number that are read."""


def read_json(body: bytes) -> Any:
    """Returns the value of a JSON text.

    Raises:
        ProblemError: it is not well-formed, names a member twice, or nests too deep.
    """
    _must_be_shallow(body)
    try:
        return json.loads(
            body.decode("utf-8"),
            object_pairs_hook=_once,
            parse_constant=_no_number,
            parse_int=_whole,
            parse_float=_decimal,
        )
    except (ValueError, RecursionError) as fault:
        message = "The body is not well-formed JSON; nothing was recorded."
        raise ProblemError("malformed", message) from fault


def _must_be_shallow(body: bytes) -> None:
    """Raises where brackets nest too deep, before a reader recurses into them."""
    if body.count(b"[") + body.count(b"{") > DEPTH_MAX and _depth(body) > DEPTH_MAX:
        message = f"The body nests deeper than {DEPTH_MAX}; nothing was recorded."
        raise ProblemError("malformed", message)


_OPEN: Final = frozenset(b"[{")
_CLOSE: Final = frozenset(b"]}")


def _depth(body: bytes) -> int:
    """Returns how deep brackets nest outside of texts."""
    deepest = depth = 0
    inside = escaped = False
    for one in body:
        if inside:
            inside = escaped or one != _QUOTE
            escaped = not escaped and one == _ESCAPE
        elif one == _QUOTE:
            inside = True
        elif one in _OPEN:
            depth += 1
            deepest = max(deepest, depth)
        elif one in _CLOSE:
            depth -= 1
    return deepest


_QUOTE: Final = ord('"')
_ESCAPE: Final = ord("\\")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        message = "a member stands there twice"
        raise ValueError(message)
    return found


def _no_number(text: str) -> Any:
    message = f"{text} is no JSON"
    raise ValueError(message)


def _whole(text: str) -> int:
    if len(text) > DIGITS_MAX:
        message = "a number is too long"
        raise ValueError(message)
    return int(text)


def _decimal(text: str) -> float:
    if len(text) > DIGITS_MAX:
        message = "a number is too long"
        raise ValueError(message)
    return float(text)


class StrictRequest(Request):
    """Is a request whose JSON is read strictly."""

    async def json(self) -> Any:
        """Returns the body's value."""
        if not hasattr(self, "_json"):
            self._json = read_json(await self.body())
        return self._json


class StrictRoute(APIRoute):
    """Is a route that reads its JSON strictly; every router of this service uses it."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Returns what answers a request of this route."""
        handle = super().get_route_handler()

        async def strictly(request: Request) -> Response:
            return await handle(StrictRequest(request.scope, request.receive))

        return strictly
