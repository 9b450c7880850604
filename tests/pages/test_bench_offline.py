"""A bench whose server goes away and comes back: what it says meanwhile, what it keeps, and what is looked at after.

The department stays; only who serves it is stopped and started again at the same port.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from reprocess.engine.request import PlaceHold
from reprocess.ledger.append import looking
from reprocess.record.entry import Entry
from reprocess.scan.code import BadgeTag, ItemTag, printed
from reprocess.scan.command import COMMANDS, DEFECTS, tag_of
from reprocess.service.pages.bench import kept as bench_kept
from reprocess.service.pages.forms import Form
from reprocess.service.problems import ProblemError
from reprocess.terms import StreamKind, stream
from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.pages.trial import Trial, burst, tried

BLOWER, OTHER, THIRD = (printed(ItemTag(name, checked=True)) for name in ("BLW-043", "BLW-044", "BLW-045"))


def code(command: str) -> str:
    return printed(tag_of(COMMANDS[command]))


@pytest.fixture
def trial(floor: Floor) -> Iterator[Trial]:
    with tried(floor) as trial:
        yield trial


def at_bench(trial: Trial, who: str = "mirela", context: BrowserContext | None = None) -> Page:
    """Returns the real bench page of the first station, once it hears its server."""
    page = context.new_page() if context is not None else trial.floor.page()
    if context is None:
        trial.floor.sign_in(page, who, "/bench/LMG-D1")
    else:
        page.goto(f"{trial.floor.base}/bench/LMG-D1")
    trial.ready(page)
    return page


def lost(trial: Trial, *pages: Page) -> None:
    """Takes the server away, and waits until every page says so."""
    trial.stop()
    for page in pages:
        expect(page.locator("html")).not_to_have_attribute("data-link", "here")


def back(trial: Trial, *pages: Page) -> None:
    """Brings the server back, and waits until every page hears it."""
    trial.start()
    for page in pages:
        expect(page.locator("html")).to_have_attribute("data-link", "here")


def entries(trial: Trial, item: str) -> list[Entry]:
    with looking(trial.floor.department.ledger) as read:
        return list(read.entries_of(stream(StreamKind.ITEM, item)))


def kept(page: Page) -> int:
    """Returns how many facts the browser keeps."""
    count: int = page.evaluate("() => Object.keys(localStorage).filter((one) => one.startsWith('bench.kept.')).length")
    return count


GOOD = (
    ("key", "kept-1"),
    ("code", BLOWER),
    ("kept_at", "2026-03-05T07:05:00.123Z"),
    ("seen", "812"),
    ("person", "P-MT"),
)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("code", ""),
        ("code", "A" * 257),
        ("kept_at", ""),
        ("kept_at", "yesterday"),
        ("kept_at", "2026-03-05T07:05:00+01:00"),
        ("seen", "-1"),
        ("seen", "٣"),
        ("seen", "9" * 40),
        ("key", ""),
        ("key", "two words"),
    ],
)
def test_what_is_no_kept_fact_is_not_taken(name: str, value: str) -> None:
    assert bench_kept.read_fact(Form(GOOD)).seen == 812
    with pytest.raises(ProblemError):
        bench_kept.read_fact(Form(tuple((one, value if one == name else old) for one, old in GOOD)))


def test_a_bench_says_within_two_seconds_how_old_its_data_is(trial: Trial) -> None:
    page = trial.floor.page()
    page.clock.install()
    trial.floor.sign_in(page, "mirela", "/trial/LMG-D1")
    trial.ready(page)
    expect(page.locator("#state")).to_have_text("Ready")
    trial.stop()
    page.clock.pause_at(page.evaluate("() => Date.now()") / 1000 + 2)  # two seconds after the last sign of life
    expect(page.locator("html")).to_have_attribute("data-link", "late")
    expect(page.locator("[data-link]:not(html)")).to_have_text("No server. Data is 2 s old.")
    expect(page.locator("#state")).to_have_text("Unknown")  # nothing is called ready while nobody knows
    page.clock.run_for(5_000)
    expect(page.locator("[data-link]:not(html)")).to_have_text("No server. Data is 7 s old.")
    page.clock.resume()
    back(trial, page)
    expect(page.locator("[data-link]:not(html)")).to_have_text("Up to date")
    expect(page.locator("#state")).to_have_text("Ready")


def test_clocks_go_on_but_say_that_this_screen_counts_alone(trial: Trial) -> None:
    trial.clocks = [{"clock": "BLW-0041", "left": 180, "letter": "A"}]
    page = trial.floor.page()
    page.clock.install()
    trial.floor.sign_in(page, "mirela", "/trial/LMG-D1")
    trial.ready(page)
    trial.stop()
    page.clock.fast_forward(60_000)
    expect(page.locator(".due")).to_have_text("Wait (by this screen alone)")
    expect(page.locator(".digits")).to_have_text("1:59")
    page.clock.fast_forward(130_000)
    expect(page.locator(".due")).to_contain_text("Look, then confirm")
    screenshot(page, "bench-away")


def test_a_fact_is_kept_while_away_and_on_record_after(trial: Trial) -> None:
    page = at_bench(trial)
    before = len(entries(trial, "BLW-043"))
    lost(trial, page)
    burst(page, BLOWER)
    expect(page.locator("#local")).to_contain_text("Server away. Scan Hold, Fail or Dried early, else use paper.")
    burst(page, code("HOLD"))
    expect(page.locator("#local")).to_contain_text("Kept here. Not on record yet.")
    expect(page.locator("#local .answer")).to_have_class("answer kept")  # never: accepted
    expect(page.locator("#kept")).to_contain_text("Kept here, not on record yet: 1")
    must_be_accessible(page)
    screenshot(page, "bench-kept")
    assert len(entries(trial, "BLW-043")) == before
    back(trial, page)
    expect(page.locator("#kept")).to_have_text("Now on record: 1")
    assert trial.floor.department.item("BLW-043").held
    (added,) = [one for one in entries(trial, "BLW-043")[before:] if one.body.kind == "hold-placed"]
    cause = added.body.model_dump()["cause"]
    assert cause.startswith("scanned Hold at LMG-D1, 20")
    assert cause.endswith("Z by the screen's clock, while the server was away")
    assert kept(page) == 0


@pytest.mark.parametrize(
    "command", ["RINSED", "CONTACT-DONE", "PASS", "TEST-PASS", "START-CONTACT", "LOAD-START", "YES"]
)
def test_nothing_but_facts_is_taken_while_away(trial: Trial, command: str) -> None:
    page = at_bench(trial)
    lost(trial, page)
    burst(page, BLOWER)
    burst(page, code(command))
    expect(page.locator("#local")).to_contain_text("Server away. Use a paper form.")
    expect(page.locator("#local .answer")).to_have_class("answer refused")
    assert kept(page) == 0
    burst(page, code("HOLD"))  # the item of a refused scan is not held by what comes after it
    expect(page.locator("#local")).to_contain_text("Server away. Scan the item that it is about.")


def test_a_badge_is_not_believed_while_away(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    burst(page, printed(BadgeTag("B-OL", checked=True)))
    expect(page.locator("#local")).to_contain_text("Server away. Use a paper form.")


def test_a_command_and_then_many_items_are_one_fact_each(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in (code("FAIL"), BLOWER):
        burst(page, one)
    expect(page.locator("#local")).to_contain_text("Scan what is wrong, from the defect sheet.")
    for one in (code("FAIL"), printed(tag_of(DEFECTS["DROPPED"])), BLOWER, OTHER):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_have_count(2)
    back(trial, page)
    expect(page.locator("#kept .look li")).to_have_count(2)  # neither is at its inspection: both were answered, refused
    assert kept(page) == 2


def test_what_is_kept_survives_a_reload_and_goes_in_its_order(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in (BLOWER, code("HOLD"), OTHER, code("HOLD"), THIRD, code("HOLD")):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_have_count(3)
    assert kept(page) == 3
    page.context.set_offline(True)
    back(trial)
    page.context.set_offline(False)
    page.reload()
    # The page before the reload may have sent the first of them already; then this one counts the others.
    expect(page.locator("#kept")).to_have_text(re.compile("Now on record: [1-3]"))
    expect(page.locator("#kept .wait li")).to_have_count(0)
    held = {name: trial.floor.department.item(name).holds for name in ("BLW-043", "BLW-044", "BLW-045")}
    numbers = [
        max(one.feed for one in entries(trial, name) if one.body.kind == "hold-placed") for name in held if held[name]
    ]
    assert numbers == sorted(numbers)
    assert len(numbers) == 3


def test_what_went_on_meanwhile_is_looked_at_first_and_one_by_one(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in (BLOWER, code("HOLD"), OTHER, code("HOLD"), THIRD, code("HOLD")):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_have_count(3)
    for name in ("BLW-044", "BLW-045"):  # another bench went on with two of them
        told = trial.floor.department.station("LMG-C2", badge="B-JA").ask(
            PlaceHold(name, "administrative", "another bench", "supervisor")
        )
        assert told.verdict == "held"
    back(trial, page)
    expect(page.locator("#kept .look li")).to_have_count(2)
    expect(page.locator("#kept h2").first).to_have_text("Look at these first (2). Scan Next after each.")
    expect(page.locator("#kept .look li").first).to_contain_text("BLW-044 went on meanwhile.")
    assert len(trial.floor.department.item("BLW-044").holds) == 2  # the fact stands on record all the same
    assert kept(page) == 2
    must_be_accessible(page)
    screenshot(page, "bench-conflicts")
    page.reload()  # nothing is lost, and nothing recorded twice, before somebody has looked
    trial.ready(page)
    expect(page.locator("#kept .look li")).to_have_count(2)
    assert len(trial.floor.department.item("BLW-044").holds) == 2
    page.locator("#kept .look button").first.click()
    expect(page.locator("#kept .look li")).to_have_count(1)
    burst(page, code("NEXT"))  # gloves: the sheet does what the button does
    expect(page.locator("#kept")).to_be_hidden()
    assert kept(page) == 0


def test_a_re_wet_that_nobody_timed_is_not_recorded_later(trial: Trial) -> None:
    page = at_bench(trial)
    before = len(entries(trial, "BLW-043"))
    lost(trial, page)
    for one in (BLOWER, code("RE-WET")):
        burst(page, one)
    expect(page.locator("#local")).to_contain_text("Kept here. Not on record yet.")
    back(trial, page)
    expect(page.locator("#kept .look li")).to_contain_text("BLW-043: not timed. Wet again now, then scan Re-wet.")
    assert len(entries(trial, "BLW-043")) == before


def test_a_fact_of_somebody_else_waits_until_the_one_who_is_there_sends_it(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in (BLOWER, code("HOLD")):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_have_count(1)
    page.evaluate(
        """() => { const [key] = Object.keys(localStorage).filter((one) => one.startsWith('bench.kept.'));
             const fact = JSON.parse(localStorage.getItem(key)); fact.person = 'P-OL';
             localStorage.setItem(key, JSON.stringify(fact)); }"""
    )
    back(trial, page)
    expect(page.locator("#kept .look li")).to_contain_text("Kept under P-OL.")
    assert not trial.floor.department.item("BLW-043").held
    page.get_by_role("button", name="Send under my name").click()
    expect(page.locator("#kept")).to_have_text("Now on record: 1")
    assert trial.floor.department.item("BLW-043").held


def test_two_tabs_of_a_station_record_once(trial: Trial) -> None:
    page = at_bench(trial)
    twin = at_bench(trial, context=page.context)
    lost(trial, page, twin)
    for one in (BLOWER, code("HOLD")):
        burst(page, one)
    expect(twin.locator("#kept .wait li")).to_have_count(1)  # the other tab shows it as well
    back(trial, page, twin)
    expect(page.locator("#kept .wait li")).to_have_count(0)
    expect(twin.locator("#kept .wait li")).to_have_count(0)
    assert len(trial.floor.department.item("BLW-043").holds) == 1
    assert kept(page) == 0


def test_an_answer_that_is_lost_on_its_way_records_once(trial: Trial) -> None:
    page = at_bench(trial)
    burst(page, BLOWER)
    expect(page.locator("#answer > section.answer")).to_contain_text("BLW-043")
    lines: list[int] = []

    def cut(route: object) -> None:
        lines.append(1)
        if len(lines) > 1:
            route.continue_()  # type: ignore[attr-defined]
            return
        route.fetch()  # type: ignore[attr-defined]
        route.abort()  # type: ignore[attr-defined]

    page.route("**/bench/LMG-D1/scan", cut)
    burst(page, code("HOLD"))
    expect(page.locator("#answer > section.answer")).to_have_class("answer held")
    assert len(lines) == 2
    assert len(trial.floor.department.item("BLW-043").holds) == 1


def test_hostile_facts_are_kept_and_shown_as_text(trial: Trial) -> None:
    page = at_bench(trial)
    lost(trial, page)
    for one in ("<img src=x onerror=document.title='pwned'>", code("HOLD")):
        burst(page, one)
    expect(page.locator("#kept .wait li")).to_contain_text("<img src=x")
    back(trial, page)
    expect(page.locator("#kept .look li")).to_contain_text("<img src=x")
    expect(page.locator("#kept img")).to_have_count(0)
    assert "pwned" not in page.title()
