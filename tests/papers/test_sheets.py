"""Every printed code reads back from its page as what stands in the table, and the files are PDF/A, the same each time.

Data Matrix: ISO/IEC 16022; symbology identifier `]d1` for plain data: ISO/IEC 15424. PDF/A-2a: ISO 19005-2, whose
metadata say part 2, conformance A (section 6.6.4); such a file holds no letter that its fonts cannot draw (section
6.2.11.8), names its fonts under `/FontFile`, and says its language under `/Lang`.
"""

from __future__ import annotations

import re
from datetime import date
from itertools import combinations

import pytest
from PIL import ImageChops
from zxingcpp import Barcode

from reprocess.errors import WrongUseError
from reprocess.languages import LANGUAGES, texts_of
from reprocess.papers import (
    SIZES,
    Sheet,
    as_pdf,
    command_sheet,
    defect_sheet,
    form_sheet,
    numbers_from,
    slip_sheet,
    station_sheet,
    tag_sheet,
)
from reprocess.papers.codes import symbol_of
from reprocess.papers.forms import COLUMNS, ON_THE_FORM
from reprocess.papers.letters import RANGES, printable
from reprocess.papers.looks import OF_DEFECTS, OF_GROUPS, Look
from reprocess.papers.sheets import Grid
from reprocess.scan.code import CommandTag, FormTag, ItemTag, StationTag, read_code
from reprocess.scan.command import COMMANDS, DEFECTS, read_command
from tests.papers.reading import DAY, DOTS_PER_MM, edge_mm, pages_of, read_back

ITEMS = ["BLW-0041", "TUB-0117", "A" * 32]
"""Ids as they are, and one as long as an id may be."""


def sheets(language: str) -> dict[str, Sheet]:
    """Returns one sheet of every sort in a language."""
    kinds = {"BLW-0041": "blower", "TUB-0117": "breathing-tube"}
    return {
        "commands": command_sheet(language),
        "defects": defect_sheet(language),
        "form": form_sheet(["FEN-0101", "FEN-0102"], language),
        "tags": tag_sheet(ITEMS, kinds=kinds, language=language),
        "tags-50x30": tag_sheet(ITEMS, kinds=kinds, size="50x30", language=language, banner=["demo"]),
        "tags-25x15": tag_sheet(ITEMS[:2], kinds=kinds, size="25x15", language=language),
        "slips": slip_sheet(ITEMS, kinds=kinds, language=language, banner=["demo"]),
        "stations": station_sheet(["LMG-D1"], titles={"LMG-D1": "Dirty bench"}, language=language),
    }


SHEETS = {f"{name}-{language}": made for language in LANGUAGES for name, made in sheets(language).items()}
PAGES = {"form": 2, "tags-50x30": 3, "tags-25x15": 2}
EDGES_MM = {"tags-50x30": 14.0, "tags-25x15": 7.5}
"""The smallest symbol of each sort; 15 mm and more on all that hangs on a wall or lies on a bench (our choice)."""


@pytest.mark.parametrize("name", SHEETS)
def test_every_code_of_a_page_reads_back_in_every_language(name: str) -> None:
    sheet, sort = SHEETS[name], name.rpartition("-")[0]
    pages = pages_of(sheet)
    assert len(pages) == PAGES.get(sort, 1)
    found = read_back(pages)
    assert sorted(one.text for one in found) == sorted(sheet.codes())
    assert {one.symbology_identifier for one in found} == {"]d1"}
    assert min(edge_mm(one) for one in found) >= EDGES_MM.get(sort, 15.0)


@pytest.mark.parametrize("name", SHEETS)
def test_around_every_code_is_a_white_zone_of_a_module(name: str) -> None:
    """ISO/IEC 16022: a quiet zone of one module on all four sides."""
    for page in pages_of(SHEETS[name]):
        for code in read_back([page]):
            module = edge_mm(code) * DOTS_PER_MM / (symbol_of(code.text).modules - 2)
            for side in beside(code, far=int(module) - 1):
                assert page.crop(side).getextrema() == (255, 255), code.text


def beside(code: Barcode, *, far: int) -> list[tuple[int, int, int, int]]:
    """Returns what lies from one dot to `far` dots beside a symbol: above, below, left and right."""
    left, top = code.position.top_left.x, code.position.top_left.y
    right, bottom = code.position.bottom_right.x, code.position.bottom_right.y
    return [
        (left - far, top - far, right + far, top - 1),
        (left - far, bottom + 1, right + far, bottom + far),
        (left - far, top - far, left - 1, bottom + far),
        (right + 1, top - far, right + far, bottom + far),
    ]


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
    assert f"/Lang({name.rpartition('-')[2]})".encode() in made


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_of_a_sheet_is_in_its_language(language: str) -> None:
    texts = texts_of(language)
    for made in (command_sheet(language), defect_sheet(language)):
        assert isinstance(made.body, Grid)
        said = [made.title, made.foot, *(block.title for block in made.body.blocks)]
        said += [cell.word for block in made.body.blocks for cell in block.cells]
        assert {one.language for one in said} == {language}
    assert texts.direction == ("rtl" if language == "ar" else "ltr")


def test_the_command_sheet_has_every_command_and_each_means_itself() -> None:
    tags = [read_code(code) for code in command_sheet().codes()]
    assert all(isinstance(tag, CommandTag) and tag.checked for tag in tags)
    assert [read_command(tag) for tag in tags if isinstance(tag, CommandTag)] == list(COMMANDS.values())


def test_the_defect_sheet_has_every_defect_once() -> None:
    tags = [read_code(code) for code in defect_sheet().codes()]
    means = [read_command(tag) for tag in tags if isinstance(tag, CommandTag)]
    assert sorted(map(str, means)) == sorted(map(str, DEFECTS.values()))
    assert read_command(CommandTag("DEFECT-NONE", checked=True)) is None
    assert read_command(CommandTag("DANCE", checked=True)) is None


@pytest.mark.parametrize("looks", [list(OF_GROUPS.values()), list(OF_DEFECTS)], ids=["commands", "defects"])
def test_bands_are_told_apart_without_colour(looks: list[Look]) -> None:
    for one, two in combinations(looks, 2):
        assert one.pattern != two.pattern
        assert one.shape != two.shape


def luminance(colour: str) -> float:
    """Returns the relative luminance of a colour: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("look", [*OF_GROUPS.values(), *OF_DEFECTS], ids=lambda look: str(look.name))
def test_white_letters_stand_out_on_every_band(look: Look) -> None:
    """WCAG 2.2, success criterion 1.4.6: at least 7 to 1."""
    assert 1.05 / (luminance(look.colour) + 0.05) >= 7


def test_a_form_a_tag_and_a_station_are_what_they_say() -> None:
    codes = form_sheet(["FEN-0101"]).codes()
    assert read_code(codes[0]) == FormTag("FEN-0101", checked=True)
    assert codes[1:] == [code for code in command_sheet().codes() if code[2:].partition(".")[0] in ON_THE_FORM]
    assert [read_code(code) for code in tag_sheet(["BLW-1"]).codes()] == [ItemTag("BLW-1", checked=True)]
    assert [read_code(code) for code in slip_sheet(["BLW-1"]).codes()] == [ItemTag("BLW-1", checked=True)]
    assert [read_code(code) for code in station_sheet(["LMG-D1"]).codes()] == [StationTag("LMG-D1", checked=True)]
    assert COLUMNS[:6] == ("item", "did", "began", "ended", "by", "with")


def test_what_a_tag_is_stands_on_it_and_changes_its_picture() -> None:
    named, bare = (pages_of(tag_sheet(["BLW-1"], kinds=kinds, size="50x30"))[0] for kinds in ({"BLW-1": "blower"}, {}))
    assert ImageChops.difference(named, bare).getbbox() is not None


@pytest.mark.parametrize("size", SIZES)
def test_a_module_of_a_tag_is_a_whole_number_of_dots(size: str) -> None:
    """So that a printer that knows no grey draws every module as wide as the next."""
    for code in read_back(pages_of(tag_sheet(ITEMS[:2], size=size))):
        across = edge_mm(code) * DOTS_PER_MM
        modules = symbol_of(code.text).modules - 2
        assert abs(across / modules - round(across / modules)) * modules <= 2


def test_a_symbol_is_square_and_says_how_much_its_quiet_zone_adds() -> None:
    symbol = symbol_of("C:UNDO.C")
    assert symbol.share > 1
    assert symbol.text == "C:UNDO.C"


def test_every_letter_that_is_let_through_can_be_drawn() -> None:
    """PDF/A-2a is made of the letters that the font has, or not at all."""
    letters = [chr(one) for first, last in RANGES for one in range(first, last + 1)]
    for at in range(0, len(letters), 40):
        title = " ".join(letters[at : at + 40])[:60]
        assert printable(title) == title
        assert as_pdf(station_sheet(["LMG-D1"], titles={"LMG-D1": title}), DAY)


HOSTILE = (
    '#read("/etc/passwd")',
    "\u202eABC",
    "\x00\x1b[31m",
    "中文 \U0001f637",
    "<svg onload=x>",
    "=1+1",
    "$x$ *b* _i_ @a",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_words_from_the_record_stand_as_they_are_or_as_question_marks(text: str) -> None:
    made = station_sheet(["LMG-D1"], titles={"LMG-D1": text})
    assert as_pdf(made, DAY)
    assert re.fullmatch(r"[ -~]*", printable(text))
    assert [one.text for one in read_back(pages_of(made))] == made.codes()


@pytest.mark.parametrize(
    "asked",
    [
        lambda: tag_sheet([]),
        lambda: tag_sheet(["BLW-1", "BLW-1"]),
        lambda: tag_sheet(["blw 1"]),
        lambda: tag_sheet(["A" * 33]),
        lambda: tag_sheet(["BLW-1\n"]),
        lambda: tag_sheet(['#read("/etc/passwd")']),
        lambda: tag_sheet(["BLW-1"], size="a5"),
        lambda: tag_sheet(["A" * 32], size="25x15"),
        lambda: slip_sheet([]),
        lambda: slip_sheet(["<b>"]),
        lambda: station_sheet([]),
        lambda: station_sheet(["LMG D1"]),
        lambda: form_sheet([]),
        lambda: form_sheet(["F-1"] * 2),
        lambda: form_sheet(["--"]),
        lambda: command_sheet("xx"),
        lambda: numbers_from("FEN", 1),
        lambda: numbers_from("FEN-99", 2),
        lambda: numbers_from("FEN-X1", 2),
        lambda: numbers_from("FEN-0001", 0),
        lambda: numbers_from("FEN-0001", 101),
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
