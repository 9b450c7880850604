"""Two people change a contact time at the desk: proposed by one, put in force by the other."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.service.staff import PIN

FILE = "/desk/workflows/agent/quat-alcohol-wipe"


def test_two_people_put_a_longer_contact_time_in_force(floor: Floor) -> None:
    bram = floor.signed_in("bram", "/desk/workflows")
    expect(bram.get_by_role("heading", level=1)).to_have_text("Workflows")
    must_be_accessible(bram)
    screenshot(bram, "desk-workflows")
    bram.goto(FILE)
    text = bram.locator("#text").input_value()
    changed = text.replace("contact_s: 120", "contact_s: 180", 1)
    assert changed != text, text
    bram.locator("#text").fill(changed)
    bram.get_by_role("button", name="Check").click()
    expect(bram.get_by_role("status")).to_contain_text("No way leads")
    screenshot(bram, "desk-workflow-check")
    _sign(bram, "Propose")
    expect(bram.get_by_role("status")).to_contain_text("ACCEPTED")
    must_be_accessible(bram)
    screenshot(bram, "desk-workflow-proposed")
    expect(bram.get_by_text("Another person puts it in force.").first).to_be_visible()

    hedda = floor.signed_in("hedda", FILE)
    expect(hedda.get_by_text("Numbers that change")).to_be_visible()
    _sign(hedda, "Put in force")
    expect(hedda.get_by_role("status")).to_contain_text("ACCEPTED")
    screenshot(hedda, "desk-workflow-in-force")


def _sign(page: Page, button: str) -> None:
    form = page.locator("form", has=page.get_by_role("button", name=button, exact=True))
    form.locator("[name=pin]").fill(PIN)
    form.get_by_role("button", name=button, exact=True).click()
