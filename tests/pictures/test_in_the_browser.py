"""The desk's pictures in a real browser: accessible, inside a strict policy, without a style or script of their own."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.pages.conftest import Floor, browser, floor, must_be_accessible, screenshot  # noqa: F401 - fixtures
from tests.service.larkmoor import day_at_larkmoor  # noqa: F401 - a fixture

PAGES = {"desk-life": "/desk/items/BAT-042?cycle=2", "desk-solutions": "/desk/solutions?days=1"}


@pytest.mark.parametrize("name", PAGES)
def test_a_picture_is_an_image_with_a_name_and_a_table_beside_it(floor: Floor, name: str) -> None:  # noqa: F811
    page = floor.signed_in("hedda", PAGES[name])
    picture = page.locator("figure.picture svg")
    expect(picture).to_be_visible()
    named = page.get_by_role("img", name="Life of BAT-042" if name == "desk-life" else "Solutions", exact=True)
    expect(named).to_have_count(1)
    page.get_by_text("The same as a table").click()
    must_be_accessible(page)
    screenshot(page, name)
    page.emulate_media(media="print")
    expect(picture).to_be_visible()
    screenshot(page, f"{name}-printed")
