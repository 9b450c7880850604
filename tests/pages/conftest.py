"""A real browser before a real server: the demo after its day, whose clock the test moves, served on loopback."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from reprocess.clock import StoryClock, clock_for
from reprocess.demo.crew import NAMES
from reprocess.department import Department, open_department
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.service import serving
from reprocess.service.app import create_app
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.faults.crashing import copied
from tests.service.larkmoor import PEOPLE, day_at_larkmoor  # noqa: F401 - a fixture of both rooms
from tests.service.staff import PIN

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
NEEDED = "REPROCESS_TEST_BROWSER"
"""Set by the checks of every change: there a browser must be, and its absence is a failure."""
FLAGS = (
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)
SCREENSHOTS = Path(__file__).resolve().parents[2] / ".dev" / "screenshots"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Yields Debian's Chromium; without one the test is skipped, but not where one must be.

    It ends with each file: while it is there, an event loop runs in this thread, and no other test could run its own.
    """
    if CHROMIUM is None:
        if os.environ.get(NEEDED):
            pytest.fail("no Chromium is installed")
        pytest.skip("no Chromium is installed (Debian: apt-get install chromium)")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield chromium
        chromium.close()


@dataclass
class Floor:
    """Is a served department and the browser before it."""

    department: Department
    clock: StoryClock
    base: str
    browser: Browser
    contexts: list[BrowserContext] = field(default_factory=list)

    def page(self, *, language: str = "en", **more: Any) -> Page:
        """Returns a page of a browser of its own, with nobody signed in; faults of its script fail the test."""
        context = self.browser.new_context(base_url=self.base, locale=language, viewport=WIDE, **more)
        context.set_default_timeout(10_000)
        self.contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", lambda told: self.faults.append(told.text) if "Content Security" in told.text else None)
        page.on("request", lambda asked: self.asked.append(asked.url))
        return page

    faults: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def signed_in(self, name: str, to: str = "/", **more: Any) -> Page:
        """Returns a page at which somebody of the story is signed in at their usual station."""
        page = self.page(**more)
        self.sign_in(page, name, to)
        return page

    def sign_in(self, page: Page, name: str, to: str = "/") -> None:
        """Signs somebody in with badge and PIN, as they would."""
        badge, station = NAMES[name]
        page.goto(f"/sign-in?to={to}&at={station}")
        page.locator("#badge").fill(badge)
        page.locator("#pin").fill(PIN)
        page.locator("button.main").click()
        expect(page).not_to_have_url(f"{self.base}/sign-in")


WIDE: Any = {"width": 1920, "height": 1080}


@pytest.fixture
def floor(day_at_larkmoor: Path, tmp_path: Path, browser: Browser) -> Iterator[Floor]:  # noqa: F811
    """Yields the served demo; every page that was opened made no fault and asked no other server."""
    clock = evening_of(day_at_larkmoor)
    with open_department(copied(day_at_larkmoor, tmp_path / "copy"), clock=clock) as department:
        pins = Pins(department.ledger.key, memory_kib=8)
        kept = Pin(pins.kept(PIN), 0, must_change=False)
        with transaction(department.ledger) as work:
            for person in PEOPLE.values():
                work.credentials.keep_pin(person, kept)
        with served_at(department, pins) as base:
            floor = Floor(department, clock, base, browser)
            yield floor
            for context in floor.contexts:
                context.close()
        assert floor.faults == []
        assert [one for one in floor.asked if not one.startswith((base, "data:"))] == []


def evening_of(day: Path) -> StoryClock:
    """Returns the story's clock at its end; it stands still until the test moves it, and many threads may read it."""
    kept = clock_for(day)
    assert isinstance(kept, StoryClock)
    clock = StoryClock(kept.wall_us, kept.count + 100_000)
    clock.running_us = kept.running_us
    return clock


@contextmanager
def served_at(department: Department, pins: Pins, port: int = 0) -> Iterator[str]:
    """Serves a department on loopback, in a thread of this process; yields the address."""
    app = create_app(department)
    app.state.served.parts["door"] = Door(department.ledger, department.clock, pins)
    listening = serving.Listening("127.0.0.1", port)
    socket = serving.bound(listening)
    with serving.serving(app, listening, socket, threading.Event()):
        yield serving.address_of(listening, socket)


def screenshot(page: Page, name: str) -> None:
    """Keeps a picture of a page, to be looked at."""
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SCREENSHOTS / f"{name}.png", full_page=True)


def must_be_accessible(page: Page) -> None:
    """Fails where axe-core finds a violation of WCAG 2.2 A or AA (https://www.w3.org/TR/WCAG22/)."""
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}})
    assert found.violations_count == 0, found.generate_report()


LONG = frozenset({"test_bench_script.py", "test_desk_sizes.py"})
"""Files that run with `--long` only: the script's every corner, and every page of the desk at three widths."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leaves out what runs with `--long` only, but not where it is named on the command line."""
    named = any(Path(one.partition("::")[0]).name in LONG for one in config.args)
    if config.getoption("--long") or named:
        return
    kept = [one for one in items if one.path.name not in LONG]
    if len(kept) != len(items):
        config.hook.pytest_deselected(items=[one for one in items if one.path.name in LONG])
        items[:] = kept
