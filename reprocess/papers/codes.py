"""Data Matrix codes as drawings, each read back before it is printed.

Data Matrix is ISO/IEC 16022; a square symbol of printable ASCII is made and read by the same library.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from reprocess.errors import InvariantError

PLAIN_DATA_MATRIX: Final = "]d1"
"""The symbology identifier (ISO/IEC 15424) of a Data Matrix code that holds plain text and no GS1 data."""
_WIDTH: Final = re.compile(r'<svg width="(\d+)"')


@dataclass(frozen=True, slots=True)
class Symbol:
    """Is the drawing of one code.

    Attributes:
        svg: the drawing, its quiet zone included.
        modules: how many modules wide the drawing is; one on each side is the quiet zone (ISO/IEC 16022).
        share: how much wider the drawing is than the symbol inside its quiet zone.
    """

    text: str
    svg: str
    modules: int
    share: Fraction


def symbol_of(text: str) -> Symbol:
    """Returns the code that holds this text.

    Raises:
        InvariantError: what was drawn does not read back as that text.
    """
    import zxingcpp  # noqa: PLC0415 - a node that serves loads it when it first makes a code

    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    formats = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.DataMatrix)
    read = zxingcpp.read_barcode(made.to_image(scale=4), formats=formats)
    if read is None or read.text != text or read.symbology_identifier != PLAIN_DATA_MATRIX:
        message = f"The code of {text} does not read back."
        raise InvariantError(message, text=text)
    svg = made.to_svg(add_quiet_zones=True)
    modules = _width(svg)
    return Symbol(text, svg, modules, Fraction(modules, _width(made.to_svg(add_quiet_zones=False))))


def _width(svg: str) -> int:
    found = _WIDTH.search(svg)
    if found is None:
        message = "A drawing of a code has no width."
        raise InvariantError(message)
    return int(found[1])
