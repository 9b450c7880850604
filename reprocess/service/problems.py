"""What goes wrong, as problem details (RFC 9457): one table from our errors to statuses, and every problem's page.

A refusal carries the whole answer. No problem ever carries a trace of the program, a path or a secret.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final

import orjson
import structlog
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Match

from reprocess.errors import ReprocessError

MEDIA_TYPE: Final = "application/problem+json"
METHODS: Final = ("DELETE", "GET", "HEAD", "OPTIONS", "PATCH", "POST", "PUT")
"""Methods that an address may have."""
ERRORS_MAX: Final = 20
"""Faults of one request that are told at most."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Is one sort of problem: its HTTP status, its title, and what the caller does about it."""

    status: int
    title: str
    remedy: str


KINDS: Final[Mapping[str, Kind]] = {
    "refused": Kind(409, "A rule refuses it", "Read `answer`: every reason, its rule and the next action."),
    "held": Kind(409, "It is held", "Read `answer`: what was found is on record and the item is on hold."),
    "outrun": Kind(409, "It was done meanwhile", "Read the item anew and decide again; see `answer`."),
    "malformed": Kind(400, "The request cannot be read", "Send well-formed JSON of this operation's schema."),
    "key-missing": Kind(400, "There is no Idempotency-Key", "Send a new key with each request, the same with a retry."),
    "key-reused": Kind(422, "The key belongs to another request", "Take a new key for a new request."),
    "invalid": Kind(422, "The request does not fit the schema", "Mend what `errors` names."),
    "wrong-use": Kind(422, "The request means nothing here", "Mend what `detail` names."),
    "definition": Kind(422, "The file has faults", "Mend every fault that `detail` names."),
    "unknown-subject": Kind(404, "It is not on record", "Check the name."),
    "not-found": Kind(404, "There is no such address", "See the documentation page."),
    "not-signed-in": Kind(401, "Nobody is signed in", "Sign in, or send a token that still counts."),
    "not-allowed": Kind(403, "This is not allowed to you", "Ask somebody whose role or token allows it."),
    "wrong-origin": Kind(403, "The request comes from another site", "Send it from this server's own pages."),
    "method": Kind(405, "This address does not do that", "Use a method that `Allow` names."),
    "not-acceptable": Kind(406, "Nothing of that media type", "Accept what the documentation names."),
    "too-large": Kind(413, "The request is too large", "Send less at once."),
    "media-type": Kind(415, "It is not JSON", "Send application/json."),
    "precondition": Kind(412, "It changed meanwhile", "Read it anew and send its new ETag."),
    "precondition-missing": Kind(428, "If-Match is missing", "Read it first and send its ETag."),
    "too-many-tries": Kind(429, "Too many requests", "Wait for `Retry-After` seconds."),
    "header-too-large": Kind(431, "The headers are too large", "Send fewer and shorter headers."),
    "too-slow": Kind(408, "The request came too slowly", "Send it again at once."),
    "internal": Kind(500, "The program has a fault", "Nothing was recorded. Tell whoever keeps this server."),
    "ledger-busy": Kind(503, "The record is busy", "Send the same request with the same key again."),
    "ledger-full": Kind(507, "Nothing can be written", "Tell whoever keeps this server; reading goes on."),
    "ledger": Kind(503, "The record cannot be used", "Send the same request with the same key again."),
    "stopping": Kind(503, "This node stops", "Send it to another node, or again later."),
}
"""Every sort of problem; its `type` is the address of its page."""

OF_ERRORS: Final[Mapping[str, str]] = {
    "invariant": "internal",
    "ledger-version": "ledger",
    "ledger-moved": "ledger",
    "ledger-unsafe": "ledger",
    "tampered": "ledger",
    "damaged-entry": "ledger",
    "error": "internal",
}
"""Codes of errors whose problem has another name."""

RETRY_S: Final = {429: 1, 503: 2, 507: 60}
"""Seconds after which to come again, where nothing better is known (our choice)."""


class Fault(BaseModel):
    """Is one fault of a request: where it lies, as a JSON pointer (RFC 6901), and what it is."""

    pointer: str
    detail: str


class Problem(BaseModel):
    """Is what every answer other than 2xx carries (RFC 9457)."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(description="The address of this sort of problem's page.")
    title: str
    status: int
    detail: str = Field(description="One sentence: what happened, and whether anything was recorded.")
    instance: str | None = Field(default=None, description="The request's own id, as in the server's log.")
    errors: list[Fault] = Field(default_factory=list, description="Every fault of the request.")
    answer: dict[str, Any] | None = Field(default=None, description="The station's whole answer, where a rule spoke.")


class ProblemError(Exception):
    """Ends a request with one sort of problem."""

    def __init__(self, kind: str, detail: str, **more: Any) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail
        self.headers: dict[str, str] = more.pop("headers", {})
        self.more = more


def problem(
    request: Request | None, kind: str, detail: str, *, headers: Mapping[str, str] | None = None, **more: Any
) -> Response:
    """Returns a problem as a response."""
    sort = KINDS[kind]
    body: dict[str, Any] = {
        "type": f"/v1/problems/{kind}",
        "title": sort.title,
        "status": sort.status,
        "detail": detail,
    }
    own = request.scope.get("request_id") if request is not None else None
    if own is not None:
        body["instance"] = f"urn:uuid:{own}"
    body |= {name: value for name, value in more.items() if value is not None}
    sent = dict(headers or {})
    if sort.status in RETRY_S:
        sent.setdefault("Retry-After", str(RETRY_S[sort.status]))
    if sort.status == HTTPStatus.UNAUTHORIZED:
        sent.setdefault("WWW-Authenticate", 'Bearer realm="reprocess"')
    return Response(orjson.dumps(body, default=str), sort.status, sent, MEDIA_TYPE)


def of_error(request: Request | None, fault: ReprocessError) -> Response:
    """Returns the problem of one of our errors."""
    wait = fault.fields.get("wait_s")
    headers = {"Retry-After": str(wait)} if isinstance(wait, int) else None
    return problem(request, kind_of(fault), fault.sentence, headers=headers)


def kind_of(fault: ReprocessError) -> str:
    """Returns the sort of problem that one of our errors is."""
    kind = OF_ERRORS.get(fault.code, fault.code)
    return kind if kind in KINDS else "internal"


def _of_ours(request: Request, fault: Any) -> Response:
    tell_own(fault)
    return of_error(request, fault)


def tell_own(fault: ReprocessError) -> None:
    """Writes a line into the log where one of our errors says that the program has a fault."""
    if OF_ERRORS.get(fault.code) == "internal":
        _LOG.error("fault", code=fault.code, cause=type(fault.__cause__).__name__)


def _of_problem(request: Request, fault: Any) -> Response:
    return problem(request, fault.kind, fault.detail, headers=fault.headers, **fault.more)


_OF_STATUS: Final = {sort.status: kind for kind, sort in reversed([*KINDS.items()])} | {
    400: "malformed",
    403: "not-allowed",
    404: "not-found",
    409: "refused",
    422: "invalid",
    503: "ledger",
}


def kind_of_status(status: int) -> str:
    """Returns the sort of problem that a status stands for, where nothing more is known."""
    return _OF_STATUS.get(status, "malformed" if status < HTTPStatus.INTERNAL_SERVER_ERROR else "internal")


def _of_http(request: Request, fault: Any) -> Response:
    kind = kind_of_status(fault.status_code)
    headers = {"Allow": ", ".join(_allowed(request))} if kind == "method" else fault.headers
    return problem(request, kind, KINDS[kind].remedy, headers=headers)


def _allowed(request: Request) -> list[str]:
    """Returns every method of an address (RFC 9110, 10.2.1), although each has a route of its own."""
    routes = request.app.routes
    scopes = {method: {**request.scope, "method": method} for method in METHODS}
    return [name for name, scope in scopes.items() if any(one.matches(scope)[0] == Match.FULL for one in routes)]


def _of_schema(request: Request, fault: Any) -> Response:
    told = fault.errors()
    if any(one["type"] == "json_invalid" for one in told):
        return problem(request, "malformed", "The body is not well-formed JSON.")
    errors = [{"pointer": _pointer(one["loc"]), "detail": _short(one["msg"])} for one in told[:ERRORS_MAX]]
    return problem(request, "invalid", f"{len(told)} fault(s) in the request; nothing was recorded.", errors=errors)


def _pointer(place: tuple[int | str, ...]) -> str:
    return "/" + "/".join(_short(str(one)).replace("~", "~0").replace("/", "~1") for one in place)


def _short(text: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in text)[:200]


def _of_anything(request: Request, fault: Exception) -> Response:
    _LOG.error("fault", code="unexpected", cause=type(fault).__name__)
    return problem(request, "internal", "The program has a fault; nothing more is known here.")


_LOG = structlog.get_logger("reprocess.service")


def add_to(app: FastAPI) -> None:
    """Lets an application answer every error as a problem."""
    app.add_exception_handler(ReprocessError, _of_ours)
    app.add_exception_handler(ProblemError, _of_problem)
    app.add_exception_handler(HTTPException, _of_http)
    app.add_exception_handler(RequestValidationError, _of_schema)
    app.add_exception_handler(Exception, _of_anything)


def responses(*kinds: str) -> dict[int | str, dict[str, Any]]:
    """Returns what a route's documentation says of these sorts of problems, by status."""
    found: dict[int | str, dict[str, Any]] = {}
    for kind in kinds:
        sort = KINDS[kind]
        told = found.get(sort.status)
        if told is None:
            example = {
                "type": f"/v1/problems/{kind}",
                "title": sort.title,
                "status": sort.status,
                "detail": sort.remedy,
            }
            found[sort.status] = {
                "description": sort.title,
                "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}, "example": example}},
            }
        else:
            told["description"] += f"; or: {sort.title}"
    return found


READING: Final = ("not-signed-in", "not-allowed", "invalid", "too-many-tries", "ledger-busy", "malformed")
"""What may go wrong with every reading route."""
WRITING: Final = (
    *READING,
    "refused",
    "held",
    "outrun",
    "key-missing",
    "key-reused",
    "unknown-subject",
    "too-large",
    "media-type",
    "wrong-origin",
    "ledger-full",
)
"""What may go wrong with every writing route."""
