"""A bench page of the tests' own, with the parts that its script works with, on a server that goes away and comes back.

The station's real page is the product's; here a test says what the server answers, and sees what it was sent.
"""

from __future__ import annotations

import asyncio
import re
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from markupsafe import Markup
from playwright.sync_api import Page, expect
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from reprocess.service import serving
from reprocess.service.app import create_app
from reprocess.service.pages import rendering
from reprocess.service.pages.bench import calibration
from reprocess.service.pages.bench import kept as bench_kept
from reprocess.service.pages.forms import Form, PageRoute, form_of
from reprocess.service.pages.signing_in import perhaps
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.pages.conftest import Floor

PAGE = """{% extends "base.html" %}
{% block title %}Trial{% endblock %}
{% block head %}<link rel="stylesheet" href="{{ asset('bench.css') }}">{% endblock %}
{% block face %}bench" data-station="{{ station }}{% endblock %}
{% block content %}
<h1 class="unseen">Trial</h1>
<form id="scan" method="post" action="/trial/{{ station }}/scan">
<p class="field"><label for="code">Code</label>
<input id="code" name="code" maxlength="256" autocomplete="off"><button id="go">Go</button></p>
<div id="answer" aria-live="polite">{{ answer|safe }}</div>
</form>
<p><button id="trap" type="button">Trap</button> <a id="away" href="/board">Elsewhere</a>
<label><input type="checkbox" id="tick"> Tick</label> <span id="state" data-ready>Ready</span></p>
<section id="clocks" data-source="/trial/{{ station }}/clocks">{{ clocks|safe }}</section>
{% include "_bench_screen.html" %}
{% endblock %}"""


@dataclass
class Trial:
    """Is the trial page and its server.

    Attributes:
        sent: the forms that arrived, in order.
        pending: the codes that the next answers say are waiting; batch: whether they are a batch.
        clocks: the running clocks that the server tells, as attributes.
        gate: what an answer waits for, where a test lets it wait.
        problem: whether the next answer is a page of a problem.
        lost: whether the next answer is lost on its way.
    """

    floor: Floor
    sent: list[Form] = field(default_factory=list)
    sort: str = "accepted"
    pending: list[str] = field(default_factory=list)
    batch: bool = False
    clocks: list[dict[str, object]] = field(default_factory=list)
    gate: threading.Event | None = None
    pin: bool = False
    keys: int = 0
    port: int = 0
    _serving: ExitStack = field(default_factory=ExitStack)

    @property
    def codes(self) -> list[str]:
        """Returns the codes that arrived, in order."""
        return [dict(one.fields).get("code", "") for one in self.sent]

    def start(self) -> None:
        """Serves, at the port of before where there was one."""
        app = create_app(self.floor.department)
        app.state.served.parts["door"] = Door(
            self.floor.department.ledger,
            self.floor.department.clock,
            Pins(self.floor.department.ledger.key, memory_kib=8),
        )
        app.include_router(self._router())
        for face in (bench_kept, calibration):
            app.include_router(face.router)
        listening = serving.Listening("127.0.0.1", self.port)
        socket = serving.bound(listening)
        self.port = socket.getsockname()[1]
        self._serving = ExitStack()
        self._serving.enter_context(serving.serving(app, listening, socket, threading.Event()))
        self.floor.base = serving.address_of(listening, socket)

    def stop(self) -> None:
        """Takes the server away: its port refuses whoever comes."""
        self._serving.close()

    def open(self, who: str = "mirela", **more: Any) -> Page:
        """Returns the trial page at which somebody of the story is signed in, once it hears its server."""
        page = self.floor.page(**more)
        self.floor.sign_in(page, who, "/trial/LMG-D1")
        self.ready(page)
        return page

    def ready(self, page: Page) -> None:
        """Waits until a page's script listens."""
        expect(page.locator("body.scripted")).to_be_attached()
        expect(page.locator("html")).to_have_attribute("data-link", "here")
        expect(page.locator("body")).to_have_attribute("data-heard", re.compile("[1-9]"))

    def _router(self) -> APIRouter:
        router = APIRouter(route_class=PageRoute, include_in_schema=False)

        @router.get("/trial/{station}")
        async def shown(request: Request, station: str) -> Response:
            found: Any = rendering.environment().from_string(PAGE)
            caller = await perhaps(request)
            told: dict[str, Any] = {"station": station, "answer": self._answer(""), "clocks": self._clocks()}
            return rendering.page(request, found, caller=caller, **told)

        @router.post("/trial/{station}/scan")
        async def scan(station: str, form: Annotated[Form, Depends(form_of)]) -> Response:
            del station
            self.sent.append(form)
            if self.gate is not None:
                await asyncio.to_thread(self.gate.wait, 10)
            return HTMLResponse(self._answer(form.get("code") or ""))

        @router.get("/trial/{station}/clocks")
        async def clocks(station: str) -> Response:
            del station
            return HTMLResponse(self._clocks())

        return router

    def _answer(self, code: str) -> str:
        self.keys += 1
        pending = [Markup('<input type="hidden" name="pending" value="{}">').format(one) for one in self.pending]
        pin = '<label for="pin">PIN</label><input id="pin" name="pin" type="password" autofocus>' if self.pin else ""
        told = Markup(
            '<section class="answer {}" data-sound="{}" {}><h2>{}</h2><p class="next"><bdi>{}</bdi></p></section>'
        ).format(self.sort, self.sort, Markup('data-batch="1"') if self.batch else "", self.sort.upper(), code)
        key = f'<input type="hidden" name="key" value="trial-{self.port}-{self.keys}">'
        return f'<div id="answer">{"".join(pending)}{key}{pin}{told if code else ""}</div>'

    def _clocks(self) -> str:
        told = []
        for one in self.clocks:
            named = Markup(" ").join(Markup('data-{}="{}"').format(name, value) for name, value in one.items())
            told.append(Markup('<li {}><span class="about">{} disinfect</span></li>').format(named, one["clock"]))
        return f"<ol>{''.join(told)}</ol>"


@contextmanager
def tried(floor: Floor) -> Iterator[Trial]:
    """Yields the trial page, served."""
    trial = Trial(Floor(floor.department, floor.clock, floor.base, floor.browser, floor.contexts))
    trial.start()
    try:
        yield trial
    finally:
        for context in trial.floor.contexts:
            context.close()
        trial.stop()
    assert trial.floor.faults == []
    assert [one for one in trial.floor.asked if not one.startswith(trial.floor.base)] == []


def scan(page: Page, code: str, *, close: str = "Enter") -> None:
    """Lets a wedge scanner read a code: every key in one moment, through the browser's own way of keys."""
    for one in code:
        page.keyboard.press({"\x1d": "F8", " ": "Space"}.get(one, one))
    if close:
        page.keyboard.press(close)


def burst(page: Page, keys: str, *, close: str = "Enter") -> None:
    """Dispatches keys that no keyboard has, such as control characters, in one moment."""
    page.evaluate(
        """([keys, close]) => {
          const all = [...keys, ...(close ? [close] : [])];
          for (const key of all) (document.activeElement ?? document.body).dispatchEvent(
            new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
        }""",
        [keys, close],
    )
