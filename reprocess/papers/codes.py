"""Data Matrix codes as drawings, each read back before it is printed.

Data Matrix is ISO/IEC 16022; a square symbol of printable ASCII is made and read by the same library.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import zxingcpp

from reprocess.errors import InvariantError

PLAIN_DATA_MATRIX: Final = "]d1"
"""The symbology identifier (ISO/IEC 15424) of a Data Matrix code that holds plain text and no GS1 data."""
DATA_MATRIX: Final = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.DataMatrix)
_WIDTH: Final = re.compile(r'<svg width="(\d+)"')


@dataclass(frozen=True, slots=True)
class Symbol:
    """Is the drawing of one code.

    Attributes:
        svg: the drawing, its quiet zone included.
        share: how much wider the drawing is than the symbol inside its quiet zone.
    """

    text: str
    svg: str
    share: Fraction


def symbol_of(text: str) -> Symbol:
    """Returns the code that holds this text.

    Raises:
        InvariantError: what was drawn does not read back as that text.
    """
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    read = zxingcpp.read_barcode(made.to_image(scale=4), formats=DATA_MATRIX)
    if read is None or read.text != text or read.symbology_identifier != PLAIN_DATA_MATRIX:
        message = f"The code of {text} does not read back."
        raise InvariantError(message, text=text)
    svg = made.to_svg(add_quiet_zones=True)
    return Symbol(text, svg, Fraction(_width(svg), _width(made.to_svg(add_quiet_zones=False))))


def _width(svg: str) -> int:
    found = _WIDTH.search(svg)
    if found is None:
        message = "A drawing of a code has no width."
        raise InvariantError(message)
    return int(found[1])
