"""Asks the department what a form asks for: who acts, with which PIN, at which station, under the form's own key."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from http import HTTPStatus
from typing import Any, Final

import anyio.to_thread
from pydantic import BaseModel, TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.responses import Response

from reprocess import enrolment
from reprocess.engine.enrolling import EnrolRequest
from reprocess.engine.request import Request as AnyRequest
from reprocess.rules.answer import Answer, Verdict
from reprocess.service import who
from reprocess.service.asking import ask, zone_of
from reprocess.service.pages import forms, rendering
from reprocess.service.pages.forms import SECRET, Form, Typed
from reprocess.service.pages.rendering import AnswerShown
from reprocess.service.problems import ProblemError
from reprocess.service.served import served
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import Words, place_of
from reprocess.station import Call


async def act(
    request: Request,
    caller: Caller,
    form: Form,
    asked: AnyRequest | EnrolRequest,
    *,
    operation: str | None = None,
    version: int | None = None,
) -> Answer:
    """Returns the answer to what a form asks for.

    Args:
        request: the HTTP request.
        caller: who is signed in.
        form: brings the key, and where they are needed the PIN, a second badge and its PIN, and what was shown.
        asked: what is asked of the department.
        operation: its name in the table of permissions, where that is not the request's own word.
        version: the number of the latest entry about the subject when the page was made; None where any will do.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
        NotAllowedError: the caller may not do this.
        PreconditionError: the subject changed since the page was made.
        ProblemError: a text is longer than the record takes, or holds what no screen shows.
        ReprocessError: as the department says.
    """
    must_be_plain(asked)
    named, own, signs = operation or asked.asked, form.key, form.signs
    must_be_plain({"second_badge": signs.second_badge})
    identity = await signed(request, caller, named, signs)
    station, badge, second = place_of(caller, {"station": None, "badge": None, "second_badge": signs.second_badge})
    shown = form.name("shown") if form.get("shown") is not None else None
    expected = None if version is None else (version,)
    call: Call | enrolment.EnrolCall
    if isinstance(asked, EnrolRequest):
        call = enrolment.EnrolCall(asked, station, badge, second, own, shown, identity, expected)
    else:
        call = Call(asked, station, badge, second, own, shown=shown, identity=identity, expected=expected)
    return await ask(served(request), call)


def must_be_plain(asked: object) -> None:
    """Raises where a text of a request is none that is taken over HTTP either: too long, or with control characters.

    Raises:
        ProblemError: with the name of the field.
    """
    for name, text in _texts_in(asked, ""):
        try:
            _WORDS.validate_python(text)
        except ValidationError as fault:
            message = f"The field {name} is too long, or holds control characters. Nothing was recorded."
            raise ProblemError("invalid", message) from fault


_WORDS: Final[TypeAdapter[str]] = TypeAdapter(Words)


def _texts_in(value: object, name: str) -> Iterator[tuple[str, str]]:
    """Yields (field, text) of everything in a request that somebody wrote, but the text of a file."""
    if isinstance(value, str):
        if value and name != "text":
            yield name, value
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _texts_in(getattr(value, field.name), field.name)
    elif isinstance(value, BaseModel | Mapping):
        for key, one in dict(value).items():
            yield from _texts_in(one, str(key))
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _texts_in(one, name)


async def signed(request: Request, caller: Caller, operation: str, signs: Signs) -> str:
    """Returns the identity word of a request, its PINs compared.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
        NotAllowedError: the caller may not do this.
    """
    return await anyio.to_thread.run_sync(who.signs, request, caller, operation, signs)


async def zone_for(request: Request, caller: Caller) -> str:
    """Returns the time zone in which a caller reads times: of their station."""
    return await zone_of(served(request), caller.station or "")


async def answer_shown(
    request: Request, caller: Caller, answer: Answer, words: rendering.Words | None = None
) -> AnswerShown:
    """Returns an answer as the caller's page shows it."""
    zone = await zone_for(request, caller)
    return rendering.shown(answer, words or rendering.words_for(request), zone)


async def answered(request: Request, caller: Caller, answer: Answer, make: Callable[..., Response]) -> Response:
    """Returns the page that `make` makes with the answer on top.

    It gives `shown`, `status` (409 where a rule refused and nothing was recorded), and then what was typed as `typed`
    where the form comes back.

    Args:
        request: the HTTP request.
        caller: who asked.
        answer: the department's answer.
        make: makes the page, in a thread, since it reads.
    """
    shown = await answer_shown(request, caller, answer)
    refused = answer.verdict is Verdict.REFUSED
    more: dict[str, Any] = {"status": int(HTTPStatus.CONFLICT if refused else HTTPStatus.OK), "shown": shown}
    back = forms.back_of(request)
    if refused and back is not None:
        more["typed"] = Typed(request.url.path, back.form.without({*SECRET, "key"}))
    return await anyio.to_thread.run_sync(partial(make, **more))


def new_key(request: Request) -> str:
    """Returns the key that a form takes with it: new with each page, so that a form records once."""
    return served(request).department.clock.new_id()
