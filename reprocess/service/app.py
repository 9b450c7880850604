"""The application: one department, its routes by noun, its documentation, and what every request goes through."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.metadata import version
from typing import Final

import orjson
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from reprocess.batching import Batcher
from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.rules.cautions import DEMO, EXAMPLE
from reprocess.service import documentation, metrics, problems
from reprocess.service.api import feed
from reprocess.service.document import document
from reprocess.service.edge import INSIDE, Application, Link
from reprocess.service.pages import astray
from reprocess.service.pages import routes as pages
from reprocess.service.routing import routers
from reprocess.service.served import Served
from reprocess.settings import Settings

DESCRIPTION: Final = """
Moves reusable equipment through used, cleaned, disinfected, dried, inspected and ready, by recorded evidence only.
Nothing becomes ready through this interface without the same evidence as at a bench.

Every writing request brings an `Idempotency-Key`: the same key gives the same answer and one entry, for ever.
Every answer other than 2xx is a problem (RFC 9457); where a rule spoke, it carries the whole answer.
Instants are RFC 3339: any offset in, UTC with `Z` out.

The maker's instructions, the disinfectant's label, local rules and licensed practice come first.
"""


def _description(department: Department) -> str:
    """Returns what stands over the documentation, with the banners that every output of this department needs."""
    banners = [DEMO] if isinstance(department.clock, StoryClock) else []
    banners += [EXAMPLE] if department.rests_on_examples() else []
    return DESCRIPTION + "\n" + "\n\n".join(f"**{one}**" for one in banners)


def create_app(department: Department, settings: Settings | None = None, link: Link = INSIDE) -> FastAPI:
    """Returns the application that serves an open department; whoever opened the department closes it."""
    counts = metrics.Counts()
    batcher = Batcher(metrics.CountedDesk(department.desk, counts), written=lambda: feed.watcher_of(parts).nudge())
    parts = Served(department, batcher, settings or Settings(), parts={"counts": counts})

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        parts.stopping.set()
        parts.batcher.close()

    app = Application(
        title="reprocess",
        version=version("reprocess"),
        description=_description(department),
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        redirect_slashes=False,
    )
    app.state.served, app.state.link = parts, link
    problems.add_to(app)
    for router in routers():
        app.include_router(router, prefix="/v1")
    app.include_router(metrics.loopback_routes())
    app.include_router(documentation.routes())
    for router in pages.routers():
        app.include_router(router)
    astray.add_to(app)
    app.add_api_route("/openapi.json", openapi, include_in_schema=False)
    return app


_MAKING: Final = threading.Lock()


def openapi(request: Request) -> Response:
    """Returns the document, which is made when it is first asked for, and once: it takes seconds.

    It is no function within `create_app`: the framework remembers functions for ever, and with them what they hold.
    """
    parts: Served = request.app.state.served
    with _MAKING:
        if "openapi" not in parts.parts:
            parts.parts["openapi"] = orjson.dumps(document(request.app))
    return Response(parts.parts["openapi"], media_type="application/json")
