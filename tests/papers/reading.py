"""Pages as a scanner sees them: every Data Matrix code on them, read by the reference reader of the code's own library.

Pages are drawn with 8 dots a millimetre, as a label printer of 203 dots an inch prints (common practice), in black and
white alone, with no grey between.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import date

import zxingcpp
from PIL import Image

from reprocess.papers import Sheet, as_images

DAY = date(2026, 3, 5)
DOTS_PER_MM = 8

DATA_MATRIX = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.DataMatrix)


def pages_of(sheet: Sheet) -> list[Image.Image]:
    """Returns the pages as black and white pictures."""
    made = as_images(sheet, DAY, dots_per_mm=DOTS_PER_MM)
    return [Image.open(io.BytesIO(page)).convert("L").point(lambda grey: 255 if grey > 127 else 0) for page in made]


def read_back(pages: Sequence[Image.Image]) -> list[zxingcpp.Barcode]:
    """Returns every code of the pages, page by page."""
    return [code for page in pages for code in zxingcpp.read_barcodes(page, formats=DATA_MATRIX)]


def edge_mm(code: zxingcpp.Barcode) -> float:
    """Returns the edge of a symbol as the reader found its corners."""
    return abs(code.position.top_right.x - code.position.top_left.x) / DOTS_PER_MM
