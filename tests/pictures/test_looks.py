"""Fills and colours: told apart without colour, and contrasts by the formula of WCAG 2.2.

Relative luminance and contrast ratio: https://www.w3.org/TR/WCAG22/#dfn-relative-luminance and #dfn-contrast-ratio.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from reprocess.languages import texts_of
from reprocess.pictures import looks
from reprocess.pictures.baths import SHAPES as TESTS
from reprocess.pictures.looks import Look
from reprocess.pictures.trace import SHAPES as NODES

FAMILIES = {
    "life": [*looks.STAGES.values(), *looks.BANDS.values()],
    "baths": list(looks.BATHS.values()),
    "can": list(looks.CAN.values()),
    "holds": list(looks.SORTS),
}
LEAST = 1.3
"""Contrast between two plain fills that are told apart side by side in a legend (our choice)."""


def luminance(colour: str) -> float:
    """Returns the relative luminance of `#rrggbb`."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    high, low = sorted((luminance(one), luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_values_that_everybody_knows() -> None:
    """WCAG 2.2, definition of contrast ratio: from 1 to 21; #767676 on white is 4.54 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("name", FAMILIES)
def test_any_two_fills_of_one_picture_differ_by_pattern_or_by_how_light_they_are(name: str) -> None:
    for one, two in combinations(FAMILIES[name], 2):
        told = one.pattern != two.pattern or contrast(one.paint, two.paint) >= LEAST
        assert told or lettered(one, two), (one, two)


def lettered(one: Look, two: Look) -> bool:
    """Tells whether two fills never meet: stages and bands stand in lanes of their own, which are named."""
    stages, bands = looks.STAGES.values(), looks.BANDS.values()
    return (one in stages) != (two in stages) and (one in bands) != (two in bands)


def test_the_fields_of_the_grid_differ_by_letter_too() -> None:
    letters = [str(texts_of("en")(f"pictures.can.{one}.letter")) for one in looks.CAN]
    assert letters == ["C", "T", "L", "\u2013"]


@pytest.mark.parametrize("look", looks.ALL.values(), ids=lambda one: one.name)
def test_what_is_written_on_a_fill_can_be_read(look: Look) -> None:
    """1.4.3 for the text; 1.4.11 for the lines of a pattern and for the outline against the page or the fill."""
    assert contrast(look.ink, look.paint) >= 4.5
    if look.pattern is not None:
        assert contrast(look.lines or look.ink, look.paint) >= 3
    assert max(contrast(look.edge, look.paint), contrast(look.paint, looks.PAPER)) >= 3


def test_lines_and_labels_stand_out_from_the_page() -> None:
    assert contrast(looks.INK, looks.PAPER) >= 7
    assert contrast(looks.LINE, looks.PAPER) >= 4.5
    assert contrast(looks.GRID, looks.PAPER) >= 3


def test_every_name_and_every_shape_is_used_once() -> None:
    assert len(looks.ALL) == sum(len(one) for one in FAMILIES.values())
    assert len(set(looks.TILES.values())) == len(looks.TILES)
    assert len(set(TESTS.values())) == len(TESTS)
    assert len(set(NODES.values())) == len(NODES)
