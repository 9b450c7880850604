"""Sheets to PDF/A and to pictures of their pages, the same bytes each time: own layout, fonts inside, no network."""

from __future__ import annotations

from datetime import UTC, date, datetime
from fractions import Fraction
from importlib import resources
from typing import Any, Final

import orjson
import typst

from reprocess.papers.codes import Symbol, symbol_of
from reprocess.papers.sheets import Cell, Page, Sheet

SYMBOL_MM: Final = 16
"""Edge of a printed symbol without its quiet zone; at least 15 mm, so that it is read at arm's length (our choice)."""
STANDARD: Final = "a-2a"
"""PDF/A-2a, ISO 19005-2, level A: fonts inside, tagged."""


def as_pdf(sheet: Sheet, day: date) -> bytes:
    """Returns the sheet as PDF/A-2a; `day` is the date that the document bears."""
    return _compiled(sheet, day, {"format": "pdf", "pdf_standards": STANDARD})[0]


def as_images(sheet: Sheet, day: date, *, dots_per_inch: int) -> list[bytes]:
    """Returns the same pages as PNG pictures, one a page."""
    return _compiled(sheet, day, {"format": "png", "ppi": float(dots_per_inch)})


def _compiled(sheet: Sheet, day: date, how: dict[str, Any]) -> list[bytes]:
    layout = resources.files("reprocess.papers").joinpath("sheet.typ").read_bytes()
    compiler = typst.Compiler(layout, font_paths=typst.Fonts(include_system_fonts=False), ignore_system_fonts=True)
    inputs = {"sheet": orjson.dumps(_fields(sheet, day)).decode()}
    at = datetime(day.year, day.month, day.day, tzinfo=UTC)
    made = compiler.compile(sys_inputs=inputs, timestamp=int(at.timestamp()), **how)
    return made if isinstance(made, list) else [made or b""]


def _fields(sheet: Sheet, day: date) -> dict[str, Any]:
    """Returns what the layout file reads."""
    return {
        "title": sheet.title,
        "layout": sheet.layout,
        "foot": sheet.foot,
        "day": [day.year, day.month, day.day],
        "columns": sheet.columns,
        "rows": sheet.rows,
        "blocks": [{"title": one.title, "cells": [_cell(cell) for cell in one.cells]} for one in sheet.blocks],
        "pages": [_page(one) for one in sheet.pages],
    }


def _cell(cell: Cell) -> dict[str, str]:
    return {"word": cell.word, "text": cell.code, **_drawn(symbol_of(cell.code))}


def _page(page: Page) -> dict[str, str]:
    return {"number": page.number, "text": page.code, **_drawn(symbol_of(page.code))}


def _drawn(symbol: Symbol) -> dict[str, str]:
    return {"svg": symbol.svg, "mm": f"{float(Fraction(SYMBOL_MM) * symbol.share):.3f}"}
