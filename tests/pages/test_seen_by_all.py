"""Answers are told apart without colour, and what is pressed at a bench is large enough for gloves."""

from __future__ import annotations

import io
from itertools import combinations
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from reprocess.scan.code import ItemTag, printed
from reprocess.scan.command import COMMANDS, tag_of
from tests.pages.conftest import Floor
from tests.pages.test_bench import at_bench, scans

SORTS = ("accepted", "noted", "refused", "held")
APART = 1.3
"""The least contrast (WCAG 2.2, "contrast ratio") between the grounds of two answers; word, shape and border add to it
(our choice)."""
PRESSED_PX = 60
SHOW = """(sorts) => {
  const place = document.createElement("div");
  place.id = "all";
  for (const sort of sorts) {
    const one = document.createElement("section");
    one.className = `answer ${sort}`;
    one.id = `one-${sort}`;
    one.append(Object.assign(document.createElement("p"), { textContent: "\\u00a0" }));
    place.append(one);
  }
  document.querySelector("main").replaceChildren(place);
}"""


def light(channel: int) -> float:
    """Returns the light of one 8-bit channel of sRGB (WCAG 2.2, "relative luminance")."""
    share = channel / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def ground(page: Page, sort: str) -> float:
    """Returns the relative luminance of the middle of an answer, as the browser paints it."""
    picture = Image.open(io.BytesIO(page.locator(f"#one-{sort}").screenshot())).convert("RGB")
    pixel: Any = picture.getpixel((picture.width // 2, picture.height // 2))
    red, green, blue = pixel
    return 0.2126 * light(red) + 0.7152 * light(green) + 0.0722 * light(blue)


@pytest.mark.parametrize("eyes", ["none", "achromatopsia", "deuteranopia", "protanopia", "tritanopia"])
def test_the_grounds_of_answers_differ_in_light_for_every_eye(floor: Floor, eyes: str) -> None:
    """The referee is Chromium's own emulation of eyes (DevTools protocol, `Emulation.setEmulatedVisionDeficiency`)."""
    page = floor.page()
    page.goto("/sign-in")
    page.evaluate(SHOW, list(SORTS))
    page.context.new_cdp_session(page).send("Emulation.setEmulatedVisionDeficiency", {"type": eyes})
    seen = {sort: ground(page, sort) for sort in SORTS}
    for one, other in combinations(SORTS, 2):
        lighter, darker = max(seen[one], seen[other]), min(seen[one], seen[other])
        assert (lighter + 0.05) / (darker + 0.05) >= APART, (one, other, seen)


def test_each_answer_has_a_border_of_its_own_beside_its_colour(floor: Floor) -> None:
    page = floor.page()
    page.goto("/sign-in")
    page.evaluate(SHOW, list(SORTS))
    read = "(one) => { const css = getComputedStyle(one); return css.borderTopStyle + css.borderTopWidth; }"
    borders = [page.locator(f"#one-{sort}").evaluate(read) for sort in ("accepted", "refused", "held")]
    assert len(set(borders)) == 3


def test_what_is_pressed_at_a_bench_is_large_enough_for_gloves(floor: Floor) -> None:
    page = at_bench(floor, "mirela")
    scans(page, printed(ItemTag("BLW-043", checked=True)))
    pressed_are_large(page)
    scans(page, printed(tag_of(COMMANDS["YES"])))
    expect(page.locator("#number")).to_be_focused()
    pressed_are_large(page)


def pressed_are_large(page: Page) -> None:
    """Fails where something to press or fill in is smaller than 60 px either way."""
    found = page.locator("main button:not(.unseen):visible, main input:not([type=hidden]):visible")
    small = []
    for one in found.all():
        box = one.bounding_box()
        if box is not None and min(box["width"], box["height"]) < PRESSED_PX - 0.5:
            small.append((one.inner_text() or one.get_attribute("name"), box))
    assert small == []
