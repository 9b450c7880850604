"""The bench's script against hurry, sleep and chance: a yes is about what was in sight, and no film is hidden."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from reprocess.engine.request import PlaceHold
from tests.pages.conftest import Floor
from tests.pages.test_bench_offline import BLOWER, OTHER, at_bench, back, code, kept, lost
from tests.pages.test_bench_script import counting, opened, order, passes, sounds
from tests.pages.trial import Trial, burst, scan, tried

EIGHT: list[dict[str, object]] = [
    {"clock": f"BLW-010{number}", "left": 0, "most": 3600, "letter": letter} for number, letter in enumerate("ABCDEFGH")
]
NINTH: dict[str, object] = {"clock": "BLW-0109", "left": 300, "rewet": 30, "most": 3600, "letter": "", "film": 150}


@pytest.fixture
def trial(floor: Floor) -> Iterator[Trial]:
    with tried(floor) as trial:
        yield trial


def test_yes_is_about_what_was_in_sight_when_it_was_scanned(trial: Trial) -> None:
    """The server is slow: an item, then a yes before its checklist came. The yes is not sent; the next one is."""
    page = opened(trial)
    trial.gate = threading.Event()
    scan(page, "I:BLW-0041.W")
    scan(page, code("YES"))
    passes(page, 100)
    trial.gate.set()
    expect(page.locator("#local .next")).to_have_text("That was not on the screen yet. Look, then scan again.")
    assert trial.codes == ["I:BLW-0041.W"]
    passes(page, 2_100)
    scan(page, code("YES"))
    expect(page.locator("#answer .next")).to_have_text(code("YES"))
    assert trial.codes == ["I:BLW-0041.W", code("YES")]


def test_a_film_that_dries_comes_before_eight_clocks_that_wait(trial: Trial) -> None:
    page = counting(trial, [*EIGHT, NINTH])
    assert "" not in order(page)
    passes(page, 31_000)
    assert order(page)[0] == ""
    assert page.locator("#clocks [data-clock='BLW-0109']").get_attribute("data-due") == "rewet"
    assert sounds(page).count("wet") == 1


def test_a_computer_that_slept_asks_for_its_clocks_anew(trial: Trial) -> None:
    """Its own clock stood still meanwhile, as a browser's may while a computer sleeps (W3C, High Resolution Time)."""
    page = counting(trial, [{"clock": "BLW-0041", "left": 180, "rewet": 60, "letter": "A", "film": 75}])
    trial.clocks = [{"clock": "BLW-0041", "left": 60, "rewet": 0, "letter": "A", "film": 75}]
    trial.floor.clock.push(120)  # two minutes of the server, none of the screen, and no news
    with page.expect_response("**/clocks"):
        page.clock.resume()
    expect(page.locator("[data-clock]")).to_have_attribute("data-due", "rewet")


def test_next_is_for_the_item_that_waits_and_dismisses_no_conflict(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in (BLOWER, code("HOLD")):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_have_count(1)
    trial.floor.department.station("LMG-C2", badge="B-JA").ask(
        PlaceHold("BLW-043", "administrative", "seen", "supervisor")
    )
    back(trial, page)
    expect(page.locator("#kept .look li")).to_have_count(1)
    burst(page, OTHER)
    expect(page.locator("#answer > section.answer")).to_contain_text("BLW-044")
    before = page.locator("#answer input[name=key]").input_value()
    burst(page, code("NEXT"))
    expect(page.locator("#answer input[name=key]")).not_to_have_value(before)
    expect(page.locator("#kept .look li")).to_have_count(1)
    assert kept(page) == 1


def test_a_pin_typed_while_away_is_neither_kept_nor_shown(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in ("73014926", code("HOLD")):
        burst(page, one)
    expect(page.locator("#local .next")).to_have_text("Server away. Scan the item that it is about.")
    assert kept(page) == 0
    burst(page, "73014926")
    expect(page.locator("#local .seen")).to_have_text("****")
    assert "73014926" not in page.content()


def test_the_key_of_a_lost_scan_is_given_to_no_other(trial: Trial) -> None:
    """A hold whose answer is lost twice is kept under its key; what is scanned next goes under another one."""
    page = at_bench(trial)
    burst(page, BLOWER)
    expect(page.locator("#answer > section.answer")).to_contain_text("BLW-043")
    key = page.locator("#answer input[name=key]").input_value()
    page.route("**/bench/LMG-D1/scan", lambda route: route.abort())
    page.route("**/bench/LMG-D1/kept", lambda route: route.abort())
    burst(page, code("HOLD"))
    expect(page.locator("#kept .wait li")).to_have_count(1)
    assert page.locator("#answer input[name=key]").input_value() != key
