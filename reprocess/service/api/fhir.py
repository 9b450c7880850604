"""The record as HL7 FHIR R5, to read: resources by id, searches in pages, and what is served.

Whatever goes wrong here is told as an OperationOutcome (HL7 FHIR R5, page "http", section 3.2.0.1.6).
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from http import HTTPStatus
from importlib.metadata import version
from typing import Any, Final

from fastapi import APIRouter, Depends
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import ReprocessError
from reprocess.exchange.fhir import bundles
from reprocess.exchange.fhir.asking import COUNT, COUNT_MAX, search_of
from reprocess.exchange.fhir.searching import Facade
from reprocess.exchange.fhir.terms import Json, Seeing, as_json
from reprocess.ledger.append import Transaction
from reprocess.service import problems
from reprocess.service.problems import ProblemError
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, department_of, reading
from reprocess.service.who import Caller, may_of, needs
from reprocess.terms import StreamKind

OPERATIONS: Final = {
    "AuditEvent": "read-entries",
    "Device": "read-items",
    "DeviceDefinition": "read-files",
    "DeviceDispense": "read-history",
    "Observation": "read-history",
    "Task": "read-history",
}
"""What a caller must be allowed to read each kind of resource."""
STREAMS: Final = {
    StreamKind.SOLUTION: "read-solutions",
    StreamKind.LOAD: "read-loads",
    StreamKind.PLACE: "read-places",
}
"""Whose readings are left out where a caller may not read them."""
CODES: Final = {
    "not-signed-in": "login",
    "not-allowed": "forbidden",
    "unknown-subject": "not-found",
    "not-found": "not-found",
    "too-many-tries": "throttled",
    "ledger-busy": "lock-error",
    "malformed": "structure",
    "invalid": "invalid",
    "wrong-use": "invalid",
    "not-acceptable": "not-supported",
    "method": "not-supported",
    "too-large": "too-long",
}
"""The codes of issues (page "valueset-issue-type") by our sorts of problem; every other one is `exception`."""


class FhirResponse(Response):
    """Is a response that holds a resource."""

    media_type = bundles.MEDIA_TYPE


class FhirRoute(StrictRoute):
    """Is a route that tells what went wrong as an OperationOutcome."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Returns what answers a request of this route."""
        handle = super().get_route_handler()

        async def told(request: Request) -> Response:
            try:
                return await handle(request)
            except (ReprocessError, ProblemError, HTTPException, RequestValidationError) as fault:
                return _outcome(request, fault)

        return told


def _outcome(request: Request, fault: Exception) -> Response:
    kind, sentence, status = _sort_of(fault)
    if isinstance(fault, ReprocessError):
        plain = problems.of_error(request, fault)
    else:
        plain = problems.problem(request, kind, sentence, headers=getattr(fault, "headers", None))
    headers = {name: value for name, value in plain.headers.items() if name not in {"content-length", "content-type"}}
    body = bundles.outcome(CODES.get(kind, "exception"), sentence)
    return FhirResponse(as_json(body), status or plain.status_code, headers)


def _sort_of(fault: Exception) -> tuple[str, str, int | None]:
    """Returns our sort of problem, its sentence, and its status where that is another one than usual."""
    match fault:
        case ReprocessError():
            wrong = fault.code == "wrong-use"
            return fault.code, fault.sentence, HTTPStatus.BAD_REQUEST if wrong else None
        case ProblemError():
            return fault.kind, fault.detail, None
        case HTTPException():
            found = fault.status_code == HTTPStatus.NOT_FOUND
            return ("not-found" if found else "malformed"), str(fault.detail), fault.status_code
        case _:
            return "invalid", "The request does not fit.", HTTPStatus.BAD_REQUEST


router = APIRouter(prefix="/fhir", route_class=FhirRoute, tags=["fhir"], default_response_class=FhirResponse)


def _content(what: str) -> dict[str, Any]:
    return {"description": what, "content": {bundles.MEDIA_TYPE: {"schema": {"type": "object"}}}}


_WRONG: Final[dict[int | str, dict[str, Any]]] = {
    **{
        status: _content(f"{HTTPStatus(status).phrase}: an OperationOutcome.")
        for status in (400, 401, 403, 404, 429, 503)
    },
    "default": _content("Whatever else goes wrong: an OperationOutcome."),
}


@router.get("/metadata", operation_id="fhir-metadata", responses={200: _content("A CapabilityStatement."), **_WRONG})
def metadata(request: Request) -> Response:
    """Returns exactly what is served here; everybody may ask."""
    now_us = department_of(request).clock.now().wall_us
    return FhirResponse(as_json(bundles.capabilities(_base(request), version("reprocess"), now_us)))


def _base(request: Request) -> str:
    return f"{str(request.base_url).rstrip('/')}/v1/fhir"


def _facade(request: Request, read: Transaction, who: Caller) -> Facade:
    opened = department_of(request)
    hidden = frozenset(str(kind) for kind, operation in STREAMS.items() if may_of(who, operation) is not None)
    seeing = Seeing(wearers=who.names_wearers)
    return Facade(read, opened.library, seeing, opened.clock.now().wall_us, who.sites, hidden)


def _search(request: Request, kind: str, who: Caller) -> Json:
    asked = request.query_params.multi_items()
    with reading(request) as read:
        facade = _facade(request, read, who)
        found = facade.page(search_of(kind, asked, facade.seeing))
    kept = [(name, value) for name, value in asked if name != "_after"]
    return bundles.searchset(f"{_base(request)}/{kind}", kept, found.found, found.more, total=found.total)


def _one(request: Request, kind: str, name: str, who: Caller) -> Response:
    with reading(request) as read:
        found = _facade(request, read, who).one(kind, name)
    if found is None:
        message = f"There is no {kind} of that id."
        raise ProblemError("not-found", message)
    version_ = found.get("meta", {}).get("versionId")
    return FhirResponse(as_json(found), headers={} if version_ is None else {"ETag": f'W/"{version_}"'})


def _parameters(kind: str) -> dict[str, Any]:
    """Returns what the documentation says of the parameters of a search."""
    texts = [
        (name, {"type": "string"}, f"A search parameter of FHIR ({sort}).") for name, sort in bundles.SEARCHES[kind]
    ]
    most = {"type": "integer", "minimum": 1, "default": COUNT}
    paging = [
        ("_count", most, f"The most of one page, at most {COUNT_MAX}."),
        ("_after", {"type": "string"}, "From `next`."),
    ]
    return {
        "parameters": [
            {"name": name, "in": "query", "required": False, "schema": schema, "description": says}
            for name, schema, says in (*texts, *paging)
        ]
    }


def _add(kind: str, operation: str) -> None:
    """Adds the two routes of one kind of resource."""
    allowed = Depends(needs(operation))

    def search(request: Request, who: Caller = allowed) -> Response:
        return FhirResponse(as_json(_search(request, kind, who)))

    def one(request: Request, name: Named, who: Caller = allowed) -> Response:
        return _one(request, kind, name, who)

    router.add_api_route(
        f"/{kind}",
        search,
        operation_id=f"fhir-search-{kind}",
        summary=f"One page of a search for {kind}",
        responses={200: _content("A Bundle of type searchset."), **_WRONG},
        openapi_extra=_parameters(kind),
    )
    router.add_api_route(
        f"/{kind}/{{name}}",
        one,
        operation_id=f"fhir-read-{kind}",
        summary=f"One {kind} by its id",
        responses={200: _content(f"A {kind}."), **_WRONG},
    )


for _kind, _operation in OPERATIONS.items():
    _add(_kind, _operation)


@router.get("/{kind}", include_in_schema=False)
@router.get("/{kind}/{name}", include_in_schema=False)
def other(kind: Named, name: str = "") -> Response:
    """Says that a kind of resource is not served."""
    del kind, name
    message = f"Only {', '.join(OPERATIONS)} are served."
    raise ProblemError("not-found", message)
