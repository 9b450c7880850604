"""The demo made ready for board and hatch: places, a ready respirator, a spare battery, a wearer. All is invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from reprocess.clock import StoryClock, clock_for, keep
from reprocess.demo import ward
from reprocess.demo.crew import NAMES, Crew
from reprocess.department import open_department
from reprocess.engine import request as asking
from reprocess.ledger.append import Transaction
from reprocess.rules.answer import Answer
from reprocess.rules.permissions import SCREEN
from reprocess.scan.code import BadgeTag, ItemTag, StationTag, printed
from reprocess.service.who import SCREEN_PLAIN
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US
from tests.faults.crashing import copied
from tests.pages.conftest import Floor
from tests.pages.trial import burst
from tests.service.staff import PIN


@pytest.fixture(scope="session")
def day_at_larkmoor(day_at_larkmoor: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns the demo after its day, with what a ward needs beside it."""
    clock = clock_for(day_at_larkmoor)
    assert isinstance(clock, StoryClock)
    path = copied(day_at_larkmoor, tmp_path_factory.mktemp("ward"))
    with open_department(path, clock=clock) as department:
        ward.prepare(department, clock)
    keep(clock, path)
    return path


def crew_of(floor: Floor) -> Crew:
    """Returns the hands that work beside the browser."""
    return Crew(floor.department, floor.clock)


def at_hatch(floor: Floor, name: str = "joss", **more: Any) -> Page:
    """Returns a page at which somebody is signed in at the hatch."""
    page = floor.page(**more)
    page.goto("/sign-in?to=/hatch&at=LMG-HATCH")
    page.locator("#badge").fill(NAMES[name][0])
    page.locator("#pin").fill(PIN)
    page.locator("button.main").click()
    page.wait_for_url("**/hatch")
    return page


def tag(item: str) -> str:
    """Returns what a scanner reads from an item's tag."""
    return printed(ItemTag(item, checked=False))


def label(place: str) -> str:
    """Returns what a scanner reads from a place's label."""
    return printed(StationTag(place, checked=False))


def badge(wearer: str) -> str:
    """Returns what a scanner reads from a badge."""
    return printed(BadgeTag(wearer, checked=False))


def scan(page: Page, code: str) -> None:
    """Sends a code as a scanner does: all its keys in a moment, and Enter, to a page whose script listens."""
    expect(page.locator("body.scripted")).to_be_attached()
    burst(page, code)


def become_screen(floor: Floor, page: Page, station: str) -> None:
    """Makes a browser the screen of a station, as a supervisor would at the desk."""
    until_us = floor.clock.now().wall_us + DAY_S * SECOND_US
    asked = asking.IssueToken("BOARD-1", "on the wall", (SCREEN,), (), until_us, station)

    def take(work: Transaction) -> Answer:
        call = Call(asked, station, NAMES["hedda"][0], None, "enrol-board-1")
        outcome = floor.department.desk.take_within(work, call)
        assert isinstance(outcome, Answer)
        return outcome

    programs = Programs(floor.department.ledger, floor.department.clock)
    answer, secret = programs.issue("BOARD-1", take, tokens.SCREEN)
    assert answer.accepted, answer.reasons
    page.context.add_cookies([{"name": SCREEN_PLAIN, "value": secret or "", "url": floor.base}])
