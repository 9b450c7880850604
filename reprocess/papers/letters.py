"""Letters that the font inside the layout program can print; what it lacks is printed as a question mark.

The font is DejaVu Sans Mono, which comes with typst: it has Latin, Greek, Cyrillic and Arabic letters, and joins the
Arabic ones. A document of level A may hold no letter without a picture, so nothing else may reach the page.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

FONT: Final = "DejaVu Sans Mono"
RANGES: Final = (
    (0x0020, 0x007E),
    (0x00A1, 0x00AC),
    (0x00AE, 0x017F),
    (0x0391, 0x03A1),
    (0x03A3, 0x03CE),
    (0x0400, 0x045F),
    (0x0621, 0x063A),
    (0x0641, 0x0652),
    (0x0660, 0x0669),
)
"""Code points that are printed, both ends included: no control character, no mark that turns the direction."""
WIDE: Final = Fraction(602, 1000)
"""The width of any letter in parts of the font's size: 1233 of 2048 units, by the font's own table of widths."""
POINT_MM: Final = Fraction(254, 720)
"""Millimetres of one point, 1/72 of an inch."""
CHARACTERS_MOST: Final = 60


def printable(text: str) -> str:
    """Returns a text from the record as it can be printed, cut to 60 characters."""
    kept = (one if any(first <= ord(one) <= last for first, last in RANGES) else "?" for one in text)
    return "".join(kept)[:CHARACTERS_MOST]


def fitting(text: str, wide_mm: int, most: int) -> Fraction:
    """Returns the size in points, `most` at most, at which a text fills one line of so many millimetres."""
    return min(Fraction(most), Fraction(wide_mm) / (len(text) * WIDE * POINT_MM))
