"""Every printed code reads back from its page as what stands in the table, and the files are PDF/A, the same each time.

Data Matrix: ISO/IEC 16022; symbology identifier `]d1` for plain data: ISO/IEC 15424. PDF/A-2a: ISO 19005-2, whose
metadata say part 2, conformance A (section 6.6.4); a file names its embedded fonts under `/FontFile`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pytest
import zxingcpp

from reprocess.errors import WrongUseError
from reprocess.papers import Sheet, as_images, as_pdf, command_sheet, defect_sheet, form_sheet, tag_sheet
from reprocess.papers.codes import DATA_MATRIX, symbol_of
from reprocess.papers.printing import SYMBOL_MM
from reprocess.papers.sheets import FORM_COLUMNS, ON_THE_FORM, numbers_from
from reprocess.scan.code import CommandTag, FormTag, ItemTag, read_code
from reprocess.scan.command import COMMANDS, DEFECTS, read_command
from tests.papers.pages import pixels

DAY = date(2026, 3, 5)
DOTS_PER_INCH = 110
MM_PER_INCH = 25.4


def read_back(pages: Sequence[bytes]) -> list[zxingcpp.Barcode]:
    found = []
    for page in pages:
        width, height, grey = pixels(page)
        view = zxingcpp.ImageView(grey, width, height, zxingcpp.ImageFormat.Lum)
        found += zxingcpp.read_barcodes(view, formats=DATA_MATRIX)
    return found


def edge_mm(code: zxingcpp.Barcode) -> float:
    """Returns the edge of a symbol as the reader found its corners."""
    across = abs(code.position.top_right.x - code.position.top_left.x)
    return across * MM_PER_INCH / DOTS_PER_INCH


SHEETS = {
    "commands": command_sheet(),
    "defects": defect_sheet(),
    "tags": tag_sheet(["BLW-0041", "TUB-0117"]),
    "form": form_sheet(["FEN-0101", "FEN-0102"]),
}


@pytest.mark.parametrize("name", SHEETS)
def test_every_code_of_a_page_reads_back(name: str) -> None:
    sheet = SHEETS[name]
    found = read_back(as_images(sheet, DAY, dots_per_inch=DOTS_PER_INCH))
    strip = sheet.codes()[: len(ON_THE_FORM)] if name == "form" else []
    assert sorted(one.text for one in found) == sorted([*sheet.codes(), *strip])
    assert {one.symbology_identifier for one in found} == {"]d1"}
    assert all(edge_mm(one) >= 14.5 for one in found)
    assert SYMBOL_MM >= 15


def test_the_command_sheet_has_every_command_and_each_means_itself() -> None:
    tags = [read_code(code) for code in command_sheet().codes()]
    assert all(isinstance(tag, CommandTag) and tag.checked for tag in tags)
    assert [read_command(tag) for tag in tags if isinstance(tag, CommandTag)] == list(COMMANDS.values())


def test_the_defect_sheet_has_every_defect() -> None:
    tags = [read_code(code) for code in defect_sheet().codes()]
    assert [read_command(tag) for tag in tags if isinstance(tag, CommandTag)] == list(DEFECTS.values())
    assert read_command(CommandTag("DEFECT-NONE", checked=True)) is None
    assert read_command(CommandTag("DANCE", checked=True)) is None


def test_a_form_and_a_tag_are_what_they_say() -> None:
    assert [read_code(code) for code in form_sheet(["FEN-0101"]).codes()][-1] == FormTag("FEN-0101", checked=True)
    assert [read_code(code) for code in tag_sheet(["BLW-1"]).codes()] == [ItemTag("BLW-1", checked=True)]
    assert FORM_COLUMNS[:4] == ("Item", "Step or fact", "Began", "Ended")


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_is_pdf_a_with_its_fonts_inside_and_the_same_each_time(name: str) -> None:
    made = as_pdf(SHEETS[name], DAY)
    assert made == as_pdf(SHEETS[name], DAY)
    assert made != as_pdf(SHEETS[name], date(2026, 3, 6))
    assert b"<pdfaid:part>2</pdfaid:part>" in made
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in made
    assert b"/FontFile" in made
    assert b"/Marked true" in made
    assert b"2026-03-05" in made


def test_a_symbol_is_square_and_says_how_much_its_quiet_zone_adds() -> None:
    symbol = symbol_of("C:UNDO.C")
    assert symbol.share > 1
    assert symbol.text == "C:UNDO.C"


@pytest.mark.parametrize(
    "asked",
    [
        lambda: tag_sheet([]),
        lambda: tag_sheet(["BLW-1", "BLW-1"]),
        lambda: tag_sheet(["blw 1"]),
        lambda: form_sheet([]),
        lambda: form_sheet(["F-1"] * 2),
        lambda: form_sheet(["--"]),
        lambda: numbers_from("FEN", 1),
        lambda: numbers_from("FEN-99", 2),
        lambda: numbers_from("FEN-X1", 2),
    ],
)
def test_what_cannot_be_printed_is_wrong_use(asked: object) -> None:
    assert callable(asked)
    with pytest.raises(WrongUseError):
        asked()


def test_numbers_follow_each_other() -> None:
    assert numbers_from("FEN-0099", 3) == ["FEN-0099", "FEN-0100", "FEN-0101"]


def test_no_two_codes_are_the_same() -> None:
    codes = [code for sheet in (command_sheet(), defect_sheet()) for code in sheet.codes()]
    assert len(set(codes)) == len(codes)
    assert isinstance(command_sheet(), Sheet)
