"""The pages' own files (style, script, shapes) under an address that changes with their content."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from typing import Final

from fastapi import APIRouter
from starlette.responses import Response

from reprocess.service.problems import ProblemError

BASE: Final = "/assets/pages"
KEPT: Final = "public, max-age=31536000, immutable"
"""A year, and never asked again: another content has another address (RFC 8246)."""
TYPES: Final = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}


@cache
def files() -> dict[str, bytes]:
    """Returns the content of every file by its name."""
    folder = resources.files("reprocess.service.pages").joinpath("static")
    found = {one.name: one.read_bytes() for one in folder.iterdir() if one.name.rpartition(".")[2] in TYPES}
    return dict(sorted(found.items()))


@cache
def digest() -> str:
    """Returns what stands in the address: all files change together, so that one may load another by its name."""
    whole = hashlib.sha256()
    for name, content in files().items():
        whole.update(f"{name} {len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()[:16]


def address(name: str) -> str:
    """Returns the address of a file.

    Raises:
        KeyError: there is no such file.
    """
    if name not in files():
        raise KeyError(name)
    return f"{BASE}/{digest()}/{name}"


def routes() -> APIRouter:
    """Returns the route of the files."""
    router = APIRouter(include_in_schema=False)

    @router.get(BASE + "/{made}/{name}")
    async def asset(made: str, name: str) -> Response:
        if name not in files():
            message = "There is no such file."
            raise ProblemError("not-found", message)
        kept = KEPT if made == digest() else "no-store"
        media = TYPES[name.rpartition(".")[2]]
        return Response(files()[name], 200, {"Cache-Control": kept}, f"{media}; charset=utf-8")

    return router
