"""What is read at a bench from three metres: sizes by hand and by the formula, contrast, and that eight clocks fit.

ISO 9241-3 as quoted by the FAA's human factors design standard: characters of 20 to 22 minutes of arc are preferred, 16
is the least. The formula H = 6.283 D MA / 21600 is that of NUREG-0700 as quoted there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect

from reprocess.scan.code import ItemTag, SolutionTag, printed
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service.pages import assets
from reprocess.service.pages.bench import calibration
from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.pages.trial import Trial, burst, tried

# By hand, H = 2 D tan(angle / 2): at 3 m 16' is 13.96 mm, 20' is 17.45 mm, 22' is 19.20 mm.
BY_HAND = [(16, 3, "14.0"), (20, 3, "17.5"), (22, 3, "19.2"), (16, 1, "4.7"), (45, 3, "39.3")]


@pytest.fixture
def trial(floor: Floor) -> Iterator[Trial]:
    with tried(floor) as trial:
        yield trial


@pytest.mark.parametrize(("minutes", "metres", "mm"), BY_HAND)
def test_heights_are_those_computed_by_hand(minutes: int, metres: int, mm: str) -> None:
    ours = calibration.height_mm(minutes, metres)
    assert ours.quantize(Decimal("0.1")) == Decimal(mm)
    assert float(ours) == pytest.approx(2 * metres * 1000 * math.tan(math.radians(minutes / 60) / 2), rel=1e-4)
    assert float(calibration.minutes_of(ours, metres)) == pytest.approx(minutes)


def test_digits_and_letters_are_above_what_is_preferred_at_three_metres() -> None:
    assert calibration.minutes_of(calibration.LETTERS_MM, 3) > 22
    assert calibration.minutes_of(calibration.DIGITS_MM, 3) > 45


def test_the_screen_that_is_assumed_is_a_24_inch_one() -> None:
    # Pixel pitch of 24 inches, 16 to 9, 1920 pixels: 24 x 25.4 x 16 / sqrt(16^2 + 9^2) / 1920 = 0.2767 mm.
    wide = 24 * 25.4 * 16 / math.hypot(16, 9)
    assert float(calibration.WIDE_MM) == pytest.approx(wide, abs=0.05)
    assert wide / 1920 == pytest.approx(0.2767, abs=0.00005)
    # Trade figure for that screen: 20 minutes are some 63 pixels, 22 some 69.
    assert [one.pixels for one in calibration.rows()][1:3] == ["63", "69"]


def luminance(colour: tuple[int, int, int]) -> float:
    """Returns the relative luminance of a colour (WCAG 2.2, definition of "relative luminance")."""
    parts = [one / 255 for one in colour]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Returns the contrast ratio of two colours (WCAG 2.2, definition of "contrast ratio")."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_of_contrast_is_that_of_the_guidelines() -> None:
    # WCAG 2.2: black on white is 21 to 1; #767676 on white is the usual example of 4.54 to 1.
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


PAIRS = [
    ("--ink", "--paper"),
    ("--ink", "--quiet"),
    ("--ink", "--noted"),
    ("--on-accepted", "--accepted"),
    ("--on-refused", "--refused"),
    ("--on-held", "--held"),
    ("--on-rewet", "--rewet"),
    ("--ink", "--wet"),
    ("--ink", "--wait"),
    ("--ink", "--kept"),
]


@pytest.mark.parametrize(("ink", "paper"), PAIRS)
def test_contrast_at_the_bench_is_at_least_seven(ink: str, paper: str) -> None:
    styles = (assets.files()["base.css"] + assets.files()["bench.css"]).decode()
    colours = dict(re.findall(r"(--[\w-]+):\s*(#[0-9a-f]{6});", styles))

    def rgb(name: str) -> tuple[int, int, int]:
        text = colours[name]
        return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)

    assert contrast(rgb(ink), rgb(paper)) >= 7


EIGHT = [
    {"clock": f"BLW-{40 + one:03}", "left": 600 + 61 * one, "most": 1800, "letter": letter}
    | ({"rewet": 20 + one, "film": 75} if one < 3 else {})
    for one, letter in enumerate("ABCDEFGH")
]


def heights(page: Page, selector: str, sample: str) -> list[float]:
    """Returns the height of the ink of some letters in CSS pixels, as the browser's own canvas measures them."""
    found: list[float] = page.evaluate(
        """([selector, sample]) => [...document.querySelectorAll(selector)].map((one) => {
          const style = getComputedStyle(one);
          const pen = document.createElement("canvas").getContext("2d");
          pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
          return pen.measureText(sample).actualBoundingBoxAscent;
        })""",
        [selector, sample],
    )
    return found


def test_eight_clocks_fit_on_a_full_hd_screen_with_digits_of_forty_millimetres(trial: Trial) -> None:
    trial.clocks = EIGHT
    told = trial._clocks()
    page = trial.floor.page()
    page.route("**/bench/LMG-D1/clocks", lambda route: route.fulfill(body=told, content_type="text/html"))
    trial.floor.sign_in(page, "mirela", "/bench/LMG-D1")
    trial.ready(page)
    expect(page.locator("#clocks .clock")).to_have_count(8)
    for code in (printed(ItemTag("BLW-043", checked=True)), printed(tag_of(COMMANDS["START-CONTACT"]))):
        burst(page, code)
        expect(page.locator("#answer > section.answer")).to_be_visible()
    burst(page, printed(SolutionTag("LMG-W1", checked=True)))
    expect(page.locator("#answer > section.answer .thing")).to_be_visible()
    screenshot(page, "bench-eight-clocks")
    pitch = 24 * 25.4 * 16 / math.hypot(16, 9) / 1920
    assert min(heights(page, "#clocks .digits", "7")) * pitch >= 39.9
    assert min(heights(page, "#clocks .letter", "H")) * pitch >= 19.9
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 1920
    boxes = page.evaluate(
        """() => [...document.querySelectorAll("#clocks .clock")].map((one) => {
          const [box, letter, digits] = [one, one.querySelector(".letter"), one.querySelector(".digits")].map(
            (part) => part.getBoundingClientRect());
          return { top: box.top, left: box.left, right: box.right, bottom: box.bottom,
            letter: [letter.left, letter.right], digits: [digits.left, digits.right] };
        })"""
    )
    assert len(boxes) == 8
    for box in boxes:
        assert box["top"] >= 0
        assert box["bottom"] <= 1080
        assert 0 <= box["left"] <= box["letter"][0] < box["letter"][1] <= box["digits"][0]
        assert box["digits"][1] <= box["right"] <= 1920


def test_targets_at_the_bench_are_sixty_pixels(trial: Trial) -> None:
    trial.clocks = EIGHT[:2]
    page = trial.open()
    for one in page.locator("button:visible, select:visible, input:visible, .top nav a:visible").all():
        box = one.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 60


def test_a_measured_bar_makes_millimetres_real(trial: Trial) -> None:
    page = trial.floor.page()
    page.goto("/calibration")
    bar = page.locator("#bar").bounding_box()
    assert bar is not None
    assert bar["width"] == calibration.BAR_PX
    expect(page.locator("#length")).not_to_have_value("")
    page.locator("#length").fill("120")  # a large screen of few pixels: 600 pixels are 120 mm, five to a millimetre
    page.locator("#measure button").click()
    expect(page.locator("#told")).to_have_text("Kept. The digits below are now 40 mm high.")
    assert heights(page, ".sample .digits", "7")[0] == pytest.approx(201, abs=1.5)
    assert heights(page, ".sample .letter", "H")[0] == pytest.approx(101, abs=1.5)
    must_be_accessible(page)
    screenshot(page, "calibration")
    page.locator("#length").fill("12000")
    page.locator("#measure button").click()
    expect(page.locator("#told")).to_have_text("That cannot be. Measure again, in millimetres.")
    page.reload()
    assert heights(page, ".sample .digits", "7")[0] == pytest.approx(201, abs=1.5)
    expect(page.locator("#length")).to_have_value("120")
