"""People, reminders and screens at the desk."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.service.staff import PIN


def test_the_desk_begins_with_what_waits(floor: Floor) -> None:
    page = floor.signed_in("hedda", "/desk")
    expect(page.get_by_role("heading", level=1)).to_have_text("What waits")
    must_be_accessible(page)
    screenshot(page, "desk-start")
    for room in ("reminders", "people", "workflows", "screens"):
        page.goto(f"/desk/{room}")
        expect(page.locator(".rooms [aria-current]")).to_be_visible()
        must_be_accessible(page)
        screenshot(page, f"desk-{room}")


def test_a_supervisor_grants_a_competency_and_withdraws_it(floor: Floor) -> None:
    page = floor.signed_in("hedda", "/desk/people/P-OL")
    screenshot(page, "desk-person")
    must_be_accessible(page)
    page.locator("#grant-competency").fill("inspect")
    page.locator("#grant-since").fill("2026-03-05")
    page.locator("#grant-until").fill("2027-03-04")
    page.locator("#grant-assessor").fill("Bram Oakes")
    page.locator("#grant-pin").fill(PIN)
    page.get_by_role("button", name="Grant a competency").click()
    expect(page.get_by_role("status")).to_contain_text("ACCEPTED")
    assert any(one.competency == "inspect" for one in floor.department.person("P-OL").competencies)


def test_a_browser_becomes_a_screen_of_its_station(floor: Floor) -> None:
    page = floor.signed_in("hedda", "/desk/screens")
    page.locator("#screen").fill("C2-LEFT")
    page.locator("#label").fill("Left of the lamp")
    page.locator("#pin").fill(PIN)
    page.get_by_role("button", name="Make this browser a screen").click()
    expect(page.get_by_role("status")).to_contain_text("ACCEPTED")
    page.reload()
    page.goto("/desk/screens")
    expect(page.get_by_text("This browser is the screen")).to_be_visible()
    screenshot(page, "desk-screens-enrolled")
