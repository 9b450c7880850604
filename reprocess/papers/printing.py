"""Sheets to PDF/A and to pictures of their pages, the same bytes each time: own layout, fonts inside, no network."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Any, Final

import orjson
import typst

from reprocess.languages import Text, texts_of
from reprocess.papers.codes import Symbol, symbol_of
from reprocess.papers.letters import FONT, fitting
from reprocess.papers.looks import Look
from reprocess.papers.sheets import Block, Cell, Forms, Grid, Label, Labels, Sheet, Size, Tag, Tags

SYMBOL_MM: Final = 16
"""Edge of a printed symbol without its quiet zone; at least 15 mm, so that it is read at arm's length (our choice)."""
DOTS_PER_MM: Final = 8
"""Dots of a label printer, 203 to the inch (common practice); a module of a tag is a whole number of them."""
STANDARD: Final = "a-2a"
"""PDF/A-2a, ISO 19005-2, level A: fonts inside, tagged."""


def as_pdf(sheet: Sheet, day: date) -> bytes:
    """Returns the sheet as PDF/A-2a; `day` is the date that the document bears."""
    return _compiled(sheet, day, {"format": "pdf", "pdf_standards": STANDARD})[0]


def as_images(sheet: Sheet, day: date, *, dots_per_mm: int) -> list[bytes]:
    """Returns the same pages as PNG pictures, one a page."""
    return _compiled(sheet, day, {"format": "png", "ppi": dots_per_mm * MM_PER_INCH})


MM_PER_INCH: Final = 25.4


def _compiled(sheet: Sheet, day: date, how: Mapping[str, Any]) -> list[bytes]:
    name, fields = _body(sheet)
    told = fields | {
        "title": _said(sheet.title),
        "foot": _said(sheet.foot),
        "banner": [_said(one) for one in sheet.banner],
        "language": sheet.language,
        "direction": texts_of(sheet.language).direction,
        "font": FONT,
        "day": [day.year, day.month, day.day],
    }
    compiler = typst.Compiler(_layout(name), font_paths=_fonts(), ignore_system_fonts=True)
    at = datetime(day.year, day.month, day.day, tzinfo=UTC)
    made = compiler.compile(sys_inputs={"sheet": orjson.dumps(told).decode()}, timestamp=int(at.timestamp()), **how)
    return made if isinstance(made, list) else [made or b""]


@cache
def _fonts() -> typst.Fonts:
    """Returns the fonts that come with the layout program, and no others."""
    return typst.Fonts(include_system_fonts=False)


@cache
def _layout(name: str) -> bytes:
    """Returns a layout, with what all of them share before it."""
    folder = resources.files("reprocess.papers").joinpath("layouts")
    return b"\n".join(folder.joinpath(f"{one}.typ").read_bytes() for one in ("shared", name))


def _body(sheet: Sheet) -> tuple[str, dict[str, Any]]:
    """Returns (the name of the layout, what it reads)."""
    match sheet.body:
        case Grid(blocks=blocks):
            return "grid", {"blocks": [_block(one) for one in blocks]}
        case Forms() as forms:
            return "form", _forms(forms)
        case Tags(tags=tags, size=size, boxes=boxes):
            made = {
                "tags": [_tag(one, size) for one in tags],
                "boxes": {name: _said(one) for name, one in boxes.items()},
            }
            return "tags", made | _sized(size)
        case Labels(labels=labels, size=size):
            return "labels", {"labels": [_label(one, size) for one in labels], **_sized(size)}


def _said(text: Text) -> dict[str, str]:
    return {"text": str(text), "lang": text.language}


def _block(block: Block) -> dict[str, Any]:
    return {"title": _said(block.title), "look": _look(block.look), "cells": [_cell(one) for one in block.cells]}


def _look(look: Look) -> dict[str, str]:
    return {"colour": look.colour, "pattern": look.pattern, "svg": look.svg}


def _cell(cell: Cell) -> dict[str, Any]:
    return {"word": _said(cell.word), **_drawn(symbol_of(cell.code))}


def _forms(forms: Forms) -> dict[str, Any]:
    return {
        "pages": [{"number": one.number, **_drawn(symbol_of(one.code))} for one in forms.pages],
        "said": {name: _said(one) for name, one in forms.said.items()},
        "columns": [_said(one) for one in forms.columns],
        "notes": [_said(one) for one in forms.notes],
        "strip": [_cell(one) for one in forms.strip],
        "rows": forms.rows,
    }


def _sized(size: Size) -> dict[str, Any]:
    return {"width": size.width, "height": size.height, "across": size.across, "size": size.name}


def _tag(tag: Tag, size: Size) -> dict[str, Any]:
    return {
        "id": tag.id,
        "letters": f"{float(tag.letters):.2f}",
        "check": _said(tag.check),
        "kind": _said(tag.kind) if tag.kind is not None else None,
        **_in_dots(symbol_of(tag.code), size.symbol_most),
    }


def _label(label: Label, size: Size) -> dict[str, Any]:
    letters = fitting(label.item, size.width - size.symbol_most - LABEL_GAPS_MM, size.letters_most)
    return {
        "title": _said(label.title),
        "item": label.item,
        "letters": f"{float(letters):.2f}",
        "lines": [{"word": _said(one.word), "told": _said(one.told)} for one in label.lines],
        **_in_dots(symbol_of(label.code), size.symbol_most),
    }


LABEL_GAPS_MM: Final = 8
"""The margins of a label, and the gap between the symbol and the words."""


def _drawn(symbol: Symbol) -> dict[str, str]:
    return {"svg": symbol.svg, "code": symbol.text, "mm": f"{float(Fraction(SYMBOL_MM) * symbol.share):.3f}"}


def _in_dots(symbol: Symbol, most_mm: int) -> dict[str, str]:
    """Returns a symbol as large as it may be with each module a whole number of dots, so that no edge is blurred."""
    dots = most_mm * DOTS_PER_MM // symbol.modules
    return {"svg": symbol.svg, "code": symbol.text, "mm": f"{dots * symbol.modules / DOTS_PER_MM:.3f}"}
