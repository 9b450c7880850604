"""The OpenAPI document: what every operation shares is said here once, so that no route can leave it out.

Statuses that stand before every route (limits, rates, stopping), who may ask, headers, links from one answer to the
next request, and examples that work on the demo.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from reprocess.service import problems
from reprocess.service.document_links import LINKS, Leads
from reprocess.service.examples import EXAMPLES
from reprocess.service.operations import WRITES

Json = dict[str, Any]

METHODS: Final = frozenset({"get", "put", "post", "delete"})
ANY: Final = ("malformed", "too-many-tries", "header-too-large", "stopping")
"""What every request may meet before a route sees it."""
WITH_BODY: Final = ("too-large", "too-slow", "media-type", "wrong-origin")
"""What every request other than a reading one may meet before a route sees it."""
OPEN: Final = frozenset(
    {
        "sign-in", "begin", "begin-single-sign-on", "end-single-sign-on",
        "live", "ready", "list-problems", "read-problem",
    }
)  # fmt: skip
"""Operations that ask nobody who they are: those that let in, and what every stranger may know."""
HALF_OPEN: Final = frozenset({"sign-out"})
"""Operations that do no harm where nobody is signed in."""
SIGNED: Final = frozenset({"report-result"})
"""Operations whose message is signed instead."""
NAMES: Final = {
    "idempotency-key": "Idempotency-Key",
    "if-match": "If-Match",
    "if-none-match": "If-None-Match",
    "last-event-id": "Last-Event-ID",
    "x-pin": "X-PIN",
    "x-second-pin": "X-Second-PIN",
}
"""Headers as their standards write them; upper and lower case mean the same (RFC 9110, section 5.1)."""
KEY: Final = "Idempotency-Key"
MATCH: Final = "If-Match"
MATCHED: Final = frozenset(one.asked for one in WRITES if one.if_match == "always")
"""Operations that name a version always. Both headers are asked for although no schema says so: whoever leaves one out
is told in a sentence of its own (400 and 428)."""

SCHEMES: Final[Json] = {
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": "__Host-session",
        "description": "A person at a station, as `POST /v1/sessions` gives it; `session` on loopback without TLS.",
    },
    "bearer": {
        "type": "http",
        "scheme": "bearer",
        "description": "A program's token (`rpt_...`), or a session's id as text (RFC 6750).",
    },
    "signature": {
        "type": "apiKey",
        "in": "header",
        "name": "webhook-signature",
        "description": "Standard Webhooks 1.0.0, together with `webhook-id` and `webhook-timestamp`.",
    },
}
HEADERS: Final[Json] = {
    "X-Request-ID": {
        "description": "The request's own id, as in the server's log.",
        "schema": {"type": "string", "format": "uuid"},
    },
    "Retry-After": {
        "description": "Seconds after which the same request may come again (RFC 9110, 10.2.3).",
        "schema": {"type": "integer", "minimum": 0},
    },
    "RateLimit": {
        "description": "Requests that are left and seconds until all are, where the node limits rates.",
        "schema": {"type": "string"},
    },
    "RateLimit-Policy": {
        "description": "The rate that applies: its name, requests and seconds.",
        "schema": {"type": "string"},
    },
    "WWW-Authenticate": {"description": "How to prove oneself (RFC 9110, 11.6.1).", "schema": {"type": "string"}},
}
OF_STATUS: Final = {
    "401": ("WWW-Authenticate",),
    "429": ("Retry-After",),
    "503": ("Retry-After",),
    "507": ("Retry-After",),
}
"""Headers that an answer of a status has beside those of every answer."""
OF_EVERY: Final = ("X-Request-ID", "RateLimit", "RateLimit-Policy")
SIGNING: Final = ("webhook-id", "webhook-timestamp", "webhook-signature")


@dataclass(frozen=True, slots=True)
class Told:
    """Is one operation in the document."""

    path: str
    method: str
    own: Json

    @property
    def name(self) -> str:
        """Returns its id."""
        return str(self.own["operationId"])

    @property
    def reads(self) -> bool:
        """Tells whether it changes nothing by its method."""
        return self.method == "get"


def document(app: FastAPI) -> Json:
    """Returns the OpenAPI 3.1 document of an application."""
    made = get_openapi(
        title=app.title, version=app.version, openapi_version="3.1.0", description=app.description, routes=app.routes
    )
    parts = made.setdefault("components", {})
    _add_problem(parts.setdefault("schemas", {}))
    parts["securitySchemes"] = SCHEMES
    parts["headers"] = HEADERS
    made["security"] = [{"session": []}, {"bearer": []}]
    made["servers"] = [{"url": "/", "description": "This node."}]
    for one in operations(made):
        _say(one)
    parts["responses"] = _shared(made)
    return made


def operations(made: Json) -> Iterator[Told]:
    """Yields every operation of a document."""
    for path, methods in made["paths"].items():
        for method, own in methods.items():
            if method in METHODS:
                yield Told(path, method, own)


def _shared(made: Json) -> Json:
    """Returns the problems that several operations have alike, and lets those operations name them."""
    kept: Json = {}
    for one in operations(made):
        for status, answer in one.own["responses"].items():
            if set(answer.get("content", ())) == {problems.MEDIA_TYPE}:
                alike = [name for name, other in kept.items() if other == answer]
                number = sum(name.startswith(f"Problem{status}") for name in kept)
                name = alike[0] if alike else f"Problem{status}-{number + 1}"
                kept[name] = answer
                one.own["responses"][status] = {"$ref": f"#/components/responses/{name}"}
    return kept


def _add_problem(schemas: Json) -> None:
    schemas["Problem"] = problems.Problem.model_json_schema(ref_template="#/components/schemas/{model}")
    schemas |= schemas["Problem"].pop("$defs", {})
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)


def _say(one: Told) -> None:
    """Adds to one operation what the route itself does not say."""
    _add_security(one)
    _add_statuses(one)
    for parameter in one.own.get("parameters", ()):
        _mend(one, parameter)
    _add_examples(one)
    for leads in LINKS.get(one.name, ()):
        _add_link(one, leads)
    for status, answer in one.own["responses"].items():
        named = (*OF_EVERY, *OF_STATUS.get(status, ()))
        headers = answer.setdefault("headers", {})
        headers |= {name: {"$ref": f"#/components/headers/{name}"} for name in named if name not in headers}


def _add_security(one: Told) -> None:
    if one.name in OPEN:
        one.own["security"] = []
    elif one.name in HALF_OPEN:
        one.own["security"] = [{}, {"session": []}, {"bearer": []}]
    elif one.name in SIGNED:
        one.own["security"] = [{"signature": []}]
        one.own.setdefault("parameters", []).extend(
            {"name": name, "in": "header", "required": True, "schema": {"type": "string"}} for name in SIGNING[:2]
        )


def _add_statuses(one: Told) -> None:
    told: Json = one.own["responses"]
    told.pop("default", None)
    missing = problems.responses(*ANY, *(() if one.reads else WITH_BODY))
    for status, answer in missing.items():
        told.setdefault(str(status), answer)
    one.own["responses"] = {status: told[status] for status in sorted(told)}


def _mend(one: Told, parameter: Json) -> None:
    """Writes a header's name as its standard does, and says of it what its schema cannot."""
    if parameter["in"] != "header":
        return
    name = NAMES.get(parameter["name"].lower(), parameter["name"])
    parameter["name"] = name
    if name == KEY:
        parameter["required"] = True
        parameter["schema"] |= {"minLength": 1, "maxLength": 128, "pattern": "^[!-~]{1,128}$"}
    elif name == MATCH and one.name in MATCHED:
        parameter["required"] = True


def _add_examples(one: Told) -> None:
    example = EXAMPLES.get(one.name)
    if example is None:
        return
    for parameter in one.own.get("parameters", ()):
        if parameter["name"] in example.at:
            parameter["example"] = example.at[parameter["name"]]
    if example.body is not None:
        for media in one.own["requestBody"]["content"].values():
            media["example"] = example.body


def _add_link(one: Told, leads: Leads) -> None:
    good = next(answer for status, answer in one.own["responses"].items() if status.startswith("2"))
    good.setdefault("links", {})[leads.to] = {
        "operationId": leads.to,
        "parameters": dict(leads.given),
        "description": leads.says,
    }
