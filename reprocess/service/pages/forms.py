"""Forms that come back, read strictly, and the route of a page: whatever goes wrong is answered as a page."""

from __future__ import annotations

import re
from collections.abc import Callable, Coroutine, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from http import HTTPStatus
from typing import Any, Final
from urllib.parse import parse_qsl, quote

import anyio.to_thread
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from reprocess.errors import ReprocessError
from reprocess.service import problems, who
from reprocess.service.limits import FORM
from reprocess.service.pages import rendering
from reprocess.service.problems import KINDS, ProblemError
from reprocess.service.seeing import NAME
from reprocess.service.who import Signs
from reprocess.service.writing import KEY

FIELDS_MOST: Final = 2000
NAME_MOST: Final = 64
"""Characters of a name that stands in an address, as over HTTP (`seeing.Named`)."""
DIGITS_MOST: Final = 15
"""Digits of a number in a form; all of them fit in what the record keeps."""
SIGN_IN: Final = "/sign-in"
EVENTS: Final = "text/event-stream"
SECRET: Final = frozenset({"pin", "new_pin", "first_pin", "second_pin", "second_badge"})
"""Fields that are never sent back."""


@dataclass(frozen=True, slots=True)
class Form:
    """Is what a form brought: its fields in their order; one name may come several times."""

    fields: tuple[tuple[str, str], ...]

    def get(self, name: str) -> str | None:
        """Returns the first value of a field without blanks around it; None where it is missing or empty."""
        return next((value.strip() for one, value in self.fields if one == name and value.strip()), None)

    def must(self, name: str) -> str:
        """Returns the value of a field that must be there.

        Raises:
            ProblemError: it is missing.
        """
        found = self.get(name)
        if found is None:
            message = f"Fill in: {name}. Nothing was recorded."
            raise ProblemError("invalid", message)
        return found

    def name(self, field: str) -> str:
        """Returns the value of a field that becomes a name in addresses.

        Raises:
            ProblemError: it is missing, or it has blanks, letters beyond ASCII, or more than 64 characters.
        """
        found = self.must(field)
        if len(found) > NAME_MOST or not re.fullmatch(NAME, found):
            message = (
                f"In {field}: letters, digits and signs without blanks, {NAME_MOST} at most. Nothing was recorded."
            )
            raise ProblemError("invalid", message)
        return found

    def number(self, field: str) -> int | None:
        """Returns the whole number in a field, or None where there is none.

        Raises:
            ProblemError: something else than digits stands there.
        """
        found = self.get(field)
        if found is None:
            return None
        if not (found.isascii() and found.isdigit() and len(found) <= DIGITS_MOST):
            message = f"In {field}: a whole number. Nothing was recorded."
            raise ProblemError("invalid", message)
        return int(found)

    def without(self, names: Iterable[str]) -> Form:
        """Returns the form without some of its fields."""
        left_out = frozenset(names)
        return Form(tuple((name, value) for name, value in self.fields if name not in left_out))

    def all(self, name: str) -> list[str]:
        """Returns every value of a field that is not empty."""
        return [value.strip() for one, value in self.fields if one == name and value.strip()]

    def named(self, prefix: str) -> dict[str, str]:
        """Returns the fields whose name begins so, by the rest of the name; empty ones are left out."""
        return {
            one.removeprefix(prefix): value.strip()
            for one, value in self.fields
            if one.startswith(prefix) and value.strip()
        }

    @property
    def key(self) -> str:
        """Returns the request's own key, which was made with the page.

        Raises:
            ProblemError: there is none.
        """
        found = self.get("key")
        if found is None or not KEY.match(found):
            message = "The form has no key; open its page again. Nothing was recorded."
            raise ProblemError("key-missing", message)
        return found

    @property
    def signs(self) -> Signs:
        """Returns what the form brings to say who did it."""
        return Signs(self.get("pin"), self.get("second_badge"), self.get("second_pin"))


@dataclass(frozen=True, slots=True)
class Typed:
    """Is what somebody typed in the one form that comes back with a reason; every other form of the page is empty.

    Attributes:
        path: where that form was sent.
        form: its fields without PINs; with its key only where nothing was recorded under that key.
    """

    path: str = ""
    form: Form = Form(())

    def of(self, path: str, **hidden: str) -> Form:
        """Returns the fields of the form that goes to an address with these hidden fields; none where it is another."""
        mine = path == self.path and all(self.form.get(name) == value for name, value in hidden.items())
        return self.form if mine else Form(())


@dataclass(frozen=True, slots=True)
class Back:
    """Is the page to which a form comes back, and the form."""

    form: Form
    show: Callable[..., Response]


def comes_back(request: Request, form: Form, show: Callable[..., Response]) -> None:
    """Lets a form come back with what was typed, and the reason on top, where it cannot be recorded.

    Args:
        request: the HTTP request.
        form: what was sent.
        show: makes the page, in a thread; it takes `status`, `shown` (the answer on top) and `typed`.
    """
    request.state.back = Back(form, show)


def back_of(request: Request) -> Back | None:
    """Returns where the form of a request comes back to; None where it has no such page."""
    found: Back | None = getattr(request.state, "back", None)
    return found


async def form_of(request: Request) -> Form:
    """Returns the form that a request brings; a dependency of the pages' routes.

    Raises:
        ProblemError: it is no form, or none of ours.
    """
    sort = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if sort != FORM:
        message = "This address takes a form; nothing was recorded."
        raise ProblemError("media-type", message)
    try:
        text = (await request.body()).decode("ascii")
        fields = parse_qsl(
            text, keep_blank_values=True, strict_parsing=bool(text), errors="strict", max_num_fields=FIELDS_MOST
        )
    except ValueError as fault:
        message = "The form cannot be read; nothing was recorded."
        raise ProblemError("malformed", message) from fault
    return Form(tuple(fields))


@contextmanager
def fitting() -> Iterator[None]:
    """Tells whoever typed a value that the record does not take.

    Raises:
        ProblemError: with the names of the fields.
    """
    try:
        yield
    except ValidationError as fault:
        fields = ", ".join(sorted({str(one["loc"][0]) for one in fault.errors() if one["loc"]}))
        message = f"This cannot be taken: {fields or 'the form'}. Nothing was recorded."
        raise ProblemError("invalid", message) from fault


class PageRoute(APIRoute):
    """Is the route of a page: errors are pages, and whoever is not signed in is asked to be."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Returns what answers a request of this route."""
        handle = super().get_route_handler()

        async def as_page(request: Request) -> Response:
            try:
                return await handle(request)
            except FAULTS as fault:
                return must_wait(await _answered(request, fault), fault)

        return as_page


async def _answered(request: Request, fault: Exception) -> Response:
    """Returns the page that tells of a fault: of the form that brought it, of signing in, or of the problem."""
    kind, detail = _told(fault)
    back = back_of(request)
    if back is not None and kind != "internal":
        return await _again(request, back, kind, detail)
    if kind == "not-signed-in" and _goes_on(request):
        return to_sign_in(request)
    return failed(request, kind, detail)


def must_wait(answer: Response, fault: Exception) -> Response:
    """Returns an answer that says when to come again, where the fault does or its status asks for it (I13)."""
    waits = fault.fields.get("wait_s") if isinstance(fault, ReprocessError) else None
    seconds = waits if isinstance(waits, int) else problems.RETRY_S.get(answer.status_code)
    if seconds is not None:
        answer.headers["Retry-After"] = str(seconds)
    return answer


FAULTS: Final = (ReprocessError, ProblemError, RequestValidationError, HTTPException)
"""What a page answers with a page."""


def _told(fault: Exception) -> tuple[str, str]:
    """Returns (the kind of problem that a fault is, what happened in a sentence or two)."""
    match fault:
        case ReprocessError():
            problems.tell_own(fault)
            return problems.kind_of(fault), fault.sentence
        case ProblemError():
            return fault.kind, fault.detail
        case HTTPException():
            kind = "not-found" if fault.status_code == HTTPStatus.NOT_FOUND else "malformed"
            return kind, KINDS[kind].remedy
        case _:
            return "invalid", KINDS["invalid"].remedy


def _goes_on(request: Request) -> bool:
    """Tells whether a request may go on to signing in: a whole page that is only read, no part and no stream of it."""
    stream = request.headers.get("accept", "").startswith(EVENTS)
    return request.method in who.READS and rendering.FRAGMENT not in request.headers and not stream


async def _again(request: Request, back: Back, kind: str, detail: str) -> Response:
    """Returns the page of a form with the fault on top and what was typed; the page of a problem where it has none.

    A missing or wrong PIN is told like a refusal: whoever sent it is still signed in.
    """
    status = HTTPStatus.CONFLICT if kind == "not-signed-in" else KINDS[kind].status
    left_out = SECRET if kind != "key-reused" else {*SECRET, "key"}
    typed = Typed(request.url.path, back.form.without(left_out))
    shown = rendering.fault_shown(request, detail)
    try:
        return await anyio.to_thread.run_sync(partial(back.show, status=int(status), shown=shown, typed=typed))
    except FAULTS:
        return failed(request, kind, detail)


def to_sign_in(request: Request) -> Response:
    """Returns what leads to signing in, and from there back to the page that was asked for."""
    query = f"?{request.url.query}" if request.url.query else ""
    return see(f"{SIGN_IN}?to={quote(rendering.own_address(request.url.path + query), safe='/')}")


def see(address: str) -> Response:
    """Returns what lets a browser go on to an address with GET (RFC 9110, section 15.4.4)."""
    return RedirectResponse(address, HTTPStatus.SEE_OTHER, {"Cache-Control": "no-store"})


def failed(request: Request, kind: str, detail: str) -> Response:
    """Returns the page of a problem; it stands also where the record itself cannot be read."""
    sort = KINDS[kind]
    told: dict[str, Any] = {"status": sort.status, "kind": kind, "title": sort.title, "detail": detail}
    try:
        return rendering.page(request, "problem.html", **told)
    except ReprocessError:
        return rendering.page(request, "problem.html", banners=[], **told)
