"""Signing in on a page, and the first page."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.pages.conftest import Floor, must_be_accessible, screenshot


def test_somebody_signs_in_with_badge_and_pin_and_goes_on(floor: Floor) -> None:
    page = floor.signed_in("mirela", "/")
    expect(page.locator(".who")).to_contain_text("P-MT at LMG-D1")
    must_be_accessible(page)
    screenshot(page, "first")


def test_a_wrong_pin_is_refused_in_the_chosen_language_of_the_browser(floor: Floor) -> None:
    page = floor.page(language="ar")
    page.goto("/sign-in?at=LMG-D1")
    page.locator("#badge").fill("B-MT")
    page.locator("#pin").fill("11223344")
    page.locator("button.main").click()
    expect(page.locator("html")).to_have_attribute("dir", "rtl")
    expect(page.get_by_role("alert")).to_be_visible()
    must_be_accessible(page)
    screenshot(page, "sign-in-refused")
