"""The hatch in a browser: by scans, without script, in Arabic; every page is looked at and open to everybody."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from reprocess.demo.ward import BADGE, KIT, NAME, SPARE, WEARER
from reprocess.engine import request as asking
from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.pages.ward import (
    at_hatch,
    badge,
    crew_of,
    day_at_larkmoor,  # noqa: F401 - a fixture
    label,
    scan,
    tag,
)

PRESSED_PX = 60
"""What is pressed at a bench is as high at least (issue, ways of working with gloves)."""


def must_be_large(page: Page) -> None:
    """Fails where something to press in the page's own part is lower than a gloved finger needs."""
    for one in page.locator("main :is(button, a.button, label.choice, .big a, input[data-scan])").all():
        box = one.bounding_box()
        assert box is not None
        assert box["height"] >= PRESSED_PX, one.inner_text()


def opened(page: Page, what: str) -> None:
    """Waits for a page by its heading, then looks whether everybody can use it."""
    expect(page.locator("h1")).to_contain_text(what)
    must_be_accessible(page)
    must_be_large(page)


def look_over(page: Page) -> None:
    """Answers every line with yes, counts, measures, reads the cautions."""
    for one in page.locator("label.choice.yes").all():
        one.click()
    page.locator("#count-gaskets").fill("2")
    page.locator("#count-plugs").fill("1")
    page.locator("#reading-soc_percent").fill("95")
    for one in page.locator(".caution label.choice").all():
        one.locator("input").check()


def issue(page: Page) -> None:
    """Issues the ready respirator to the wearer, by scans."""
    scan(page, tag(KIT))
    page.locator("a.first").click()
    look_over(page)
    page.locator("#instrument").focus()
    scan(page, tag("FI-09"))
    scan(page, badge(BADGE))
    scan(page, label("LMG-CAB4"))
    page.locator("button.main").click()


def test_an_item_is_issued_by_scans_after_its_look_over(floor: Floor) -> None:
    page = at_hatch(floor)
    expect(page.locator(".lists")).to_contain_text(KIT)
    must_be_accessible(page)
    must_be_large(page)
    screenshot(page, "hatch")
    scan(page, tag(KIT))
    opened(page, KIT)
    screenshot(page, "hatch-item")
    page.locator("a.first").click()
    opened(page, "Issue")
    assert page.locator("input:checked").count() == 0
    screenshot(page, "hatch-issue")
    page.goto("/hatch")
    issue(page)
    expect(page.locator(".answer.accepted")).to_be_visible()
    expect(page.locator(".answer")).to_contain_text("supplies no oxygen")
    expect(page.locator(".snapshot")).to_contain_text("BLW-047")
    screenshot(page, "hatch-issued")
    must_be_accessible(page)
    custody = floor.department.item(KIT).custody
    assert custody is not None
    assert (custody.wearer, custody.place) == (WEARER, "LMG-CAB4")
    assert [one for one in (NAME, WEARER, BADGE) if one in page.content()] == []


def test_a_scan_presses_nothing_while_the_look_over_is_open(floor: Floor) -> None:
    page = at_hatch(floor)
    scan(page, tag(KIT))
    page.locator("a.first").click()
    page.locator("button.main").focus()
    scan(page, badge(BADGE))
    expect(page.locator("#wearer")).to_have_value(badge(BADGE))
    assert floor.department.item(KIT).custody is None
    assert page.locator("input:checked").count() == 0
    page.locator("#place").focus()
    scan(page, badge("WB-LMG-08"))
    expect(page.locator("#place")).to_have_value("")
    scan(page, tag("FI-09"))
    expect(page.locator("#instrument")).to_have_value(tag("FI-09"))


def test_an_open_page_follows_the_record_and_claims_nothing_ready_without_the_server(floor: Floor) -> None:
    page = at_hatch(floor)
    expect(page.locator(f"#ready-{KIT}")).to_be_visible()
    page.context.route("**/live", lambda route: route.abort())
    page.reload()
    expect(page.locator(".ready-now")).to_be_hidden()
    expect(page.locator(".unsure").first).to_be_visible()
    page.context.unroute("**/live")
    page.reload()
    scan(page, tag(KIT))
    expect(page.locator(".ready-now")).to_be_visible()
    page.locator("#do-return").focus()
    crew_of(floor).scan("hedda", asking.PlaceHold(KIT, "administrative", "paper lost", "supervisor"))
    expect(page.get_by_role("alert")).to_contain_text("STOP. On hold (administrative): paper lost.")
    expect(page.locator("#do-issue")).to_have_count(0)
    expect(page.locator("#do-return")).to_be_focused()


def test_a_hold_is_seen_at_the_hatch_and_ends_in_quarantine(floor: Floor) -> None:
    page = at_hatch(floor)
    scan(page, tag("TUB-112"))
    stop = page.get_by_role("alert")
    expect(stop).to_contain_text("STOP. On hold (solution): LMG-B2 failed its test.")
    expect(page.locator("a.first")).to_have_text("Put in quarantine")
    must_be_accessible(page)
    must_be_large(page)
    screenshot(page, "hatch-held")
    page.locator("a.first").click()
    opened(page, "Put in quarantine")
    screenshot(page, "hatch-quarantine")
    scan(page, label("LMG-Q1"))
    page.locator("button.main").click()
    expect(page.locator(".answer")).to_be_visible()
    (hold,) = floor.department.item("TUB-112").holds.values()
    assert hold.place == "LMG-Q1"


def test_a_return_with_a_missing_gasket(floor: Floor) -> None:
    page = at_hatch(floor)
    issue(page)
    expect(page.locator(".answer.accepted")).to_be_visible()
    scan(page, tag(KIT))
    page.locator("a.first").click()
    opened(page, "Came back")
    assert page.locator("input:checked").count() == 0
    for part in floor.department.item(KIT).members.values():
        scan(page, tag(part))
    expect(page.locator("input[value=here]:checked")).to_have_count(7)
    page.locator("#count-gaskets").fill("1")
    page.locator("#count-plugs").fill("1")
    page.locator("#place").focus()
    scan(page, label("LMG-BIN2"))
    page.get_by_label("blood").check()
    must_be_accessible(page)
    must_be_large(page)
    screenshot(page, "hatch-return")
    page.locator("button.main").click()
    expect(page.locator("main")).to_contain_text("Missing from what went out")
    expect(page.locator("main")).to_contain_text("gaskets: 1")
    must_be_accessible(page)
    screenshot(page, "hatch-returned")
    assert floor.department.item(KIT).contamination_class == "blood"


def test_a_battery_is_changed_in_use(floor: Floor) -> None:
    crew_of(floor).wear("bram", "hedda", KIT)
    page = at_hatch(floor)
    scan(page, tag(KIT))
    page.get_by_role("link", name="Change the battery in use").click()
    opened(page, "Change the battery")
    screenshot(page, "hatch-swap")
    scan(page, tag(SPARE))
    for one in page.locator("label.choice.yes").all():
        one.click()
    page.locator("button.main").click()
    expect(page.locator(".answer.accepted")).to_be_visible()
    screenshot(page, "hatch-swapped")
    assert floor.department.item(KIT).members["battery"] == SPARE


def test_a_cabinet_is_opened_in_an_emergency(floor: Floor) -> None:
    assert crew_of(floor).scan("petra", asking.PutAway(KIT, "LMG-CAB4")).accepted
    page = at_hatch(floor)
    scan(page, label("LMG-CAB4"))
    opened(page, "LMG-CAB4")
    screenshot(page, "hatch-cabinet")
    page.locator("#seal").fill("S-0413")
    page.locator("button.main").click()
    expect(page.locator(".taken")).to_contain_text(KIT)
    must_be_accessible(page)
    screenshot(page, "hatch-cabinet-opened")
    page.locator(".taken a").click()
    opened(page, "Say who has it")
    screenshot(page, "hatch-identify")
    scan(page, badge(BADGE))
    page.locator("button.main").click()
    expect(page.locator(".answer.accepted")).to_be_visible()
    custody = floor.department.item(KIT).custody
    assert custody is not None
    assert (custody.wearer, custody.purpose) == (WEARER, "emergency")


def test_it_works_without_script(floor: Floor) -> None:
    page = at_hatch(floor, java_script_enabled=False)
    page.locator("#code").fill(tag(KIT))
    page.locator("#code").press("Enter")
    page.locator("a.first").click()
    look_over(page)
    page.locator("#instrument").fill(tag("FI-09"))
    page.locator("#wearer").fill(BADGE)
    page.locator("#place").fill("ward 4, room 2")
    page.locator("button.main").click()
    expect(page.locator(".answer.accepted")).to_be_visible()
    page.locator("#code").fill(KIT)
    page.locator("#code").press("Enter")
    page.locator("a.first").click()
    page.locator("button.main").click()
    expect(page.locator(".answer")).to_contain_text("P04")
    assert floor.department.item(KIT).custody is None


def test_in_arabic_it_reads_from_right_to_left(floor: Floor) -> None:
    page = at_hatch(floor, language="ar")
    expect(page.locator("html")).to_have_attribute("dir", "rtl")
    screenshot(page, "hatch-arabic")
    scan(page, tag("TUB-112"))
    expect(page.get_by_role("alert")).to_contain_text("قف")
    must_be_accessible(page)
    screenshot(page, "hatch-held-arabic")
    page.goto(f"/hatch/item/{KIT}/issue")
    must_be_accessible(page)
    must_be_large(page)
    screenshot(page, "hatch-issue-arabic")
