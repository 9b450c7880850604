"""What a browser is told where no page answers (no such address, another method, a fault): a page too, no JSON."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, Final

import structlog
from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from reprocess.service import problems
from reprocess.service.limits import INTERFACE
from reprocess.service.pages import forms
from reprocess.service.problems import KINDS

HTML: Final = "text/html"
KEPT: Final = ("allow", "retry-after")
"""Headers of the problem that the page says too."""

Handler = Callable[[Request, Any], Response]


def add_to(app: FastAPI) -> None:
    """Lets an application answer browsers with pages where no route of a page does; programs get problems as before."""
    for sort in (HTTPException, Exception):
        told: Any = app.exception_handlers[sort]
        app.add_exception_handler(sort, partial(_told, told))


def _told(before: Handler, request: Request, fault: Exception) -> Response:
    answer = before(request, fault)
    if HTML not in request.headers.get("accept", "") or request.scope["path"].startswith(INTERFACE):
        return answer
    kind = problems.kind_of_status(answer.status_code)
    try:
        page = forms.failed(request, kind, KINDS[kind].remedy)
    except Exception as worse:
        _LOG.error("fault", code="page", cause=type(worse).__name__)
        return answer
    for name in KEPT:
        if name in answer.headers:
            page.headers[name] = answer.headers[name]
    return page


_LOG: Final = structlog.get_logger("reprocess.service")
