"""Makes the writing routes of `operations.py`: schema, documentation and handler come from the request's own fields."""

from __future__ import annotations

import dataclasses
import inspect
import re
import types
from collections.abc import Callable, Coroutine, Mapping
from functools import cache
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin, get_type_hints

import anyio.to_thread
from fastapi import APIRouter, Depends, Header, Path
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError, create_model
from pydantic.json_schema import SkipJsonSchema
from starlette.requests import Request
from starlette.responses import Response

from reprocess import enrolment
from reprocess.definitions.read import digest_of
from reprocess.engine import enrolling, live
from reprocess.engine.enrolling import Enrol, EnrolRequest
from reprocess.engine.request import Request as AnyRequest
from reprocess.ledger.names import Name as PersonName
from reprocess.record import words
from reprocess.record.words import Body
from reprocess.rules.answer import Answer
from reprocess.rules.asked import Late, Override
from reprocess.rules.permissions import TECHNICIAN
from reprocess.service import seeing, versions, who
from reprocess.service.answers import AnswerOut, Instant, answered, as_us, through
from reprocess.service.asking import ask, zone_of
from reprocess.service.operations import WRITES, Operation
from reprocess.service.problems import WRITING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import served
from reprocess.service.who import Caller, Signs
from reprocess.station import Call

Name = Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=r"^[!-~]+$")]
"""A name that stands in an address: printable ASCII without spaces."""
Words = Annotated[str, StringConstraints(min_length=1, max_length=1000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*$")]
Text = Annotated[str, StringConstraints(min_length=1, max_length=60_000)]
Whole = Annotated[int, Field(ge=0, le=2**53 - 1)]
NOTHING: Any = Annotated[None, SkipJsonSchema()]  # type: ignore[type-arg]
"""An absent member; that null may stand there too is not told, so that nobody sends the word."""
LIST_MAX: Final = 1000
NO_SIGNS: Final = Signs()
KEY: Final = re.compile(r"^[!-9;-~]{1,128}$")
"""Printable ASCII without a colon: one stands in every key that the department makes itself of names that others know,
such as that of a reminder's ring or a machine's result, and nobody may answer in their place."""


class OverrideIn(BaseModel):
    """Asks to pass over one rule once."""

    model_config = ConfigDict(extra="forbid")

    rule: Annotated[str, StringConstraints(pattern=r"^[A-Z][A-Za-z]*[0-9]+$", max_length=8)]
    because: Name = Field(description="The reason's code.")
    words: Words
    until: Instant | None = None
    reference: Words | None = None


class Envelope(BaseModel):
    """Is what every writing request may bring beside its own members."""

    model_config = ConfigDict(extra="forbid")

    station: Name | SkipJsonSchema[None] = Field(default=None, description="Where; a session knows its own.")
    badge: Name | SkipJsonSchema[None] = Field(default=None, description="Whose; only a token may have to say it.")
    second_badge: Name | SkipJsonSchema[None] = Field(default=None, description="The badge of a second person.")
    pin: Words | SkipJsonSchema[None] = Field(default=None, description="One's own PIN, where the operation is signed.")
    second_pin: Words | SkipJsonSchema[None] = Field(default=None, description="The second person's PIN.")
    shown: Name | SkipJsonSchema[None] = Field(default=None, description="SHA-256 of what was shown to the signer.")


SIGNS: Final = frozenset(Envelope.model_fields)
PRECONDITIONS: Final = ("precondition", "precondition-missing")
"""What may go wrong where a change names the version that was read."""


async def idempotency_key(
    idempotency_key: Annotated[
        str | SkipJsonSchema[None],
        Header(
            description="A new key for each request, the same for its retries; it holds no colon.",
            examples=["0198c1d2-7a"],
        ),
    ] = None,
) -> str:
    """Returns the request's own key.

    Raises:
        ProblemError: there is none, or it is no 1 to 128 printable characters other than the colon.
    """
    if idempotency_key is None or not KEY.match(idempotency_key):
        message = "Send an Idempotency-Key of 1 to 128 printable ASCII characters but colons; nothing was recorded."
        raise ProblemError("key-missing", message)
    return idempotency_key


Key = Annotated[str, Depends(idempotency_key)]


@cache
def routes() -> APIRouter:
    """Returns the router of all writing operations, made once: to make it takes half a second."""
    router = APIRouter(route_class=StrictRoute)
    for one in WRITES:
        router.add_api_route(
            one.path,
            _endpoint(one),
            methods=["POST"],
            operation_id=one.asked if _names(one).count(one.asked) == 1 else one.path.strip("/").replace("/", "-"),
            summary=one.summary,
            description=inspect.getdoc(one.request),
            tags=[one.tag],
            response_class=Response,
            responses={
                200: {"description": "On record.", "model": AnswerOut},
                **responses(*WRITING, *(PRECONDITIONS if one.if_match != "never" else ())),
            },
        )
    return router


def _names(_: Operation) -> list[str]:
    return [one.asked for one in WRITES]


def _endpoint(one: Operation) -> Callable[..., Coroutine[Any, Any, Response]]:
    inside = re.findall(r"\{(\w+)\}", one.path)
    body = _model(one, inside)

    async def endpoint(request: Request, key: str, who_asks: Caller, body: Any, **path: Any) -> Response:
        parts = served(request)
        given = body.model_dump(exclude_unset=False)
        envelope = {name: given.pop(name) for name in SIGNS}
        over = given.pop("override", None)
        expected = path.pop(EXPECTED, None)
        asked = _request(one, given | path)
        operation = "override" if over is not None else _permission(one, asked)
        identity = await signed_as(request, who_asks, operation, envelope)
        if who_asks.kind == "token" and who_asks.sites and one.asked not in HANDED_OVER:
            await anyio.to_thread.run_sync(seeing.must_be_in_sight, parts, who_asks, given | path)
        place = place_of(who_asks, envelope)
        call: Call | enrolment.EnrolCall
        if isinstance(asked, EnrolRequest):
            call = enrolment.EnrolCall(asked, *place, key, envelope["shown"], identity, expected)
        else:
            call = Call(
                asked,
                *place,
                key,
                override=_override(over),
                shown=envelope["shown"],
                identity=identity,
                expected=expected,
            )
        answer: Answer = await ask(parts, call)
        return answered(request, answer, await zone_of(parts, call.station))

    parameters = [
        inspect.Parameter("request", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=Request),
        inspect.Parameter("key", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=Key),
        inspect.Parameter(
            "who_asks",
            inspect.Parameter.POSITIONAL_OR_KEYWORD,
            annotation=Annotated[Caller, Depends(who.needs(one.permission))],
        ),
        inspect.Parameter("body", inspect.Parameter.POSITIONAL_OR_KEYWORD, annotation=body),
        *(inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=_path_type(one, name)) for name in inside),
    ]
    if one.if_match != "never":
        needed = versions.must_match if one.if_match == "always" else versions.must_match_known
        annotation = Annotated[tuple[int, ...], Depends(needed)]
        parameters.append(inspect.Parameter(EXPECTED, inspect.Parameter.KEYWORD_ONLY, annotation=annotation))
    endpoint.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    return endpoint


HANDED_OVER: Final = frozenset({"receive-item", "return-item"})
"""What is done at one site with what another one's record still calls its own."""
EXPECTED: Final = "expected_versions"
"""The parameter of an endpoint that its If-Match header fills."""
WITH_ROLES: Final = "enrol-roles"
"""The operation of registering somebody with roles that carry rights: two people sign it."""


def _permission(one: Operation, asked: Any) -> str:
    """Returns the operation's name in the table of permissions, now that its fields are known."""
    body = asked.body if isinstance(asked, Enrol) else None
    if isinstance(body, words.PersonRegistered) and set(body.roles) - {TECHNICIAN}:
        return WITH_ROLES
    return one.permission


async def signed_as(request: Request, caller: Caller, operation: str, given: Mapping[str, Any]) -> str:
    """Returns the identity word of one request, its PINs checked.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
    """
    signs = Signs(given["pin"], given["second_badge"], given["second_pin"], given["badge"], given["station"])
    if not who.waits(caller, operation, signs):
        return who.signs(request, caller, operation, signs)
    return await anyio.to_thread.run_sync(who.signs, request, caller, operation, signs)


async def call_by_hand(
    request: Request,
    caller: Caller,
    given: Envelope,
    key: str,
    asked: AnyRequest,
    *,
    personal: PersonName | None = None,
) -> Call:
    """Returns the call of a route that is written by hand.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
        ProblemError: no station is known, or another one is named than that of the session.
    """
    envelope = given.model_dump(include=set(SIGNS))
    identity = await signed_as(request, caller, asked.asked, envelope)
    return Call(asked, *place_of(caller, envelope), key, personal, shown=envelope["shown"], identity=identity)


def _path_type(one: Operation, name: str) -> Any:
    hint = _hints(one).get(name, str)
    if hint is int:
        return Annotated[int, Path(ge=1, le=2**53 - 1)]
    if get_origin(hint) is Literal:
        return hint
    return Annotated[str, Path(min_length=1, max_length=64, pattern=r"^[!-~]+$")]


def place_of(caller: Caller, given: Mapping[str, Any]) -> tuple[str, str | None, str | None]:
    """Returns (station, badge, second badge) of a request.

    Raises:
        ProblemError: no station is known, or another one is named than that of the session.
    """
    station, badge = given["station"] or caller.station, given["badge"] or caller.badge
    if station is None:
        message = "Say at which station; nothing was recorded."
        raise ProblemError("invalid", message, errors=[{"pointer": "/body/station", "detail": "missing"}])
    if caller.kind == "person" and (station != caller.station or badge != caller.badge):
        message = f"This session is at {caller.station}, under its own badge; nothing was recorded."
        raise ProblemError("not-allowed", message)
    return station, badge, given["second_badge"]


def _override(given: Mapping[str, Any] | None) -> Override | None:
    if given is None:
        return None
    until = given["until"]
    return Override(
        given["rule"], given["because"], given["words"], as_us(until) if until is not None else None, given["reference"]
    )


def _hints(one: Operation) -> dict[str, Any]:
    return _hints_of(one.request)


@cache
def _hints_of(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)


def _model(one: Operation, inside: list[str]) -> type[BaseModel]:
    """Returns the schema of an operation's body: the request's fields that do not stand in the address."""
    named = "".join(part.capitalize() for part in re.split(r"[-_]", one.asked))
    taken = {name for name in inside if name in _fields(one)}
    own = {
        _member(name): (_type(_hints(one)[name], name), default)
        for name, default in _fields(one).items()
        if name not in taken and name not in ("digest",) * (one.asked == "publish")
    }
    if one.subject is not None:
        subject = re.findall(r"\{(\w+)\}", one.subject)[0]
        if subject not in inside:
            own = {subject: (Name, ...)} | own
    elif one.asked not in _ENROLLING:
        own["override"] = (OverrideIn | NOTHING, None)
    model: type[BaseModel] = create_model(f"{named}In", __base__=Envelope, **own)  # type: ignore[call-overload]
    return model


_ENROLLING: Final = frozenset(
    one.asked for one in (enrolling.Commission, enrolling.Publish, enrolling.Approve, live.ConfirmSources)
)


def _fields(one: Operation) -> dict[str, Any]:
    """Returns the fields of a request with their defaults; `...` where there is none."""
    if one.subject is not None:
        return {
            name: ... if field.is_required() else _outside_default(field.get_default(call_default_factory=True))
            for name, field in one.request.model_fields.items()
        }
    return {field.name: _default(field) for field in dataclasses.fields(one.request)}


def _default(field: dataclasses.Field[Any]) -> Any:
    if field.default is not dataclasses.MISSING:
        return _outside_default(field.default)
    if field.default_factory is not dataclasses.MISSING:
        return Field(default_factory=field.default_factory)
    return ...


def _outside_default(value: Any) -> Any:
    """Returns a default as the schema has it: a tuple inside is a list outside."""
    return Field(default_factory=lambda: list(value)) if isinstance(value, tuple) else value


def _member(name: str) -> str:
    """Returns the name outside of a body's own field: one that the envelope has already is the subject's."""
    return f"own_{name}" if name in SIGNS else _outside(name)


def _outside(name: str) -> str:
    return name.removesuffix("_us")


def _type(hint: Any, name: str) -> Any:
    """Returns the type outside of a field: bounded, and instants as RFC 3339."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _type(inner[0], name)
    if origin in (Union, types.UnionType):
        return _one_of(inner, name)
    if origin is tuple and inner[-1] is not Ellipsis:
        return tuple[tuple(_type(one, name) for one in inner)]  # type: ignore[misc]
    if origin is tuple:
        return Annotated[list[_type(inner[0], name)], Field(max_length=LIST_MAX)]  # type: ignore[misc]
    if origin is dict:
        return Annotated[dict[Name, _type(inner[1], name)], Field(max_length=LIST_MAX)]  # type: ignore[misc]
    return _inner(hint) if dataclasses.is_dataclass(hint) else _plain(hint, name)


def _one_of(hints: tuple[Any, ...], name: str) -> Any:
    kept = [_type(one, name) for one in hints if one is not type(None)]
    whole: Any = kept[0]
    for one in kept[1:]:
        whole = whole | one
    return whole | NOTHING if type(None) in hints else whole


def _plain(hint: Any, name: str) -> Any:
    if hint is int:
        return Instant if name.endswith("_us") else Whole
    if hint is str:
        return Text if name == "text" else Words
    return hint


_INNER: dict[Any, type[BaseModel]] = {}
_NOT_SAID: Final[dict[Any, frozenset[str]]] = {Late: frozenset({"done_by", "done_with"})}
"""Members of a dataclass within a request that no caller says: who did it a form's line names, by badge (D06)."""


def _inner(hint: Any) -> type[BaseModel]:
    """Returns the schema of a dataclass within a request, made once."""
    if hint not in _INNER:
        hints = get_type_hints(hint)
        own: dict[str, Any] = {
            _outside(field.name): (_type(hints[field.name], field.name), _default(field))
            for field in dataclasses.fields(hint)
            if field.name not in _NOT_SAID.get(hint, ())
        }
        _INNER[hint] = create_model(f"{hint.__name__}In", __config__=ConfigDict(extra="forbid"), **own)
    return _INNER[hint]


def schema_of_line(kind: Any) -> type[BaseModel]:
    """Returns the schema of what one line of a form can say: the request's own members, told apart by `did`."""
    own: dict[str, Any] = {"did": (Literal[kind.asked], Field(description="The request that the line stands for."))}
    own |= {
        _outside(field.name): (_type(_hints_of(kind)[field.name], field.name), _default(field))
        for field in dataclasses.fields(kind)
        if field.name != "late"
    }
    return create_model(f"{kind.__name__}LineIn", __config__=ConfigDict(extra="forbid"), **own)


def request_of_line(kind: Any, given: Mapping[str, Any]) -> Any:
    """Returns the request that one line of a form makes."""
    return _built(kind, {"late": None} | dict(given))


def _request(one: Operation, given: dict[str, Any]) -> Any:
    """Returns the request that the members of a body make."""
    if one.subject is not None:
        subject = one.subject.format(**given)
        hints = _hints(one)
        told = {name: _inside(given[_member(name)], hints[name], name) for name in one.request.model_fields}
        try:
            body: Body = one.request(**told)
        except ValidationError as fault:
            message = f"{fault.error_count()} fault(s) in the request; nothing was recorded."
            raise ProblemError("invalid", message) from fault
        return Enrol(subject, body)
    if one.asked == "publish":
        given = given | {"digest": digest_of(given["text"])}
    if one.asked == "preview-recall" and given["until"] is not None:
        given = given | {"until": through(given["until"])}  # a recall must not miss what happened within that second
    return _built(one.request, given)


def _built(kind: Any, given: Mapping[str, Any]) -> Any:
    hints = _hints_of(kind)
    return kind(**{name: _inside(given[outside], hints[name], name) for name, outside in _names_of(kind)})


@cache
def _names_of(kind: Any) -> tuple[tuple[str, str], ...]:
    """Returns (name inside, name outside) of a request's fields."""
    left_out = _NOT_SAID.get(kind, ())
    return tuple((one.name, _outside(one.name)) for one in dataclasses.fields(kind) if one.name not in left_out)


def _inside(value: Any, hint: Any, name: str) -> Any:
    """Returns a value as the request wants it: instants in microseconds, lists as tuples."""
    if value is None:
        return None
    if name.endswith("_us"):
        return as_us(value)
    if isinstance(value, list | tuple):
        return tuple(tuple(one) if isinstance(one, list | tuple) else one for one in value)
    if isinstance(value, dict):
        kinds = [one for one in (hint, *get_args(hint)) if dataclasses.is_dataclass(one)]
        return _built(kinds[0], value) if kinds else value
    return value
