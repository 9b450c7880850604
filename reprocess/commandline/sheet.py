"""`reprocess sheet`: prints command sheets, defect sheets, numbered forms and item tags as PDF/A."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, assert_never

import typer

from reprocess.commandline.options import JsonOption

if TYPE_CHECKING:
    from reprocess.papers import Sheet


class SheetSort(StrEnum):
    """Lists what can be printed."""

    COMMANDS = "commands"
    DEFECTS = "defects"
    FORM = "form"
    TAGS = "tags"


def sheet(
    sort: Annotated[SheetSort, typer.Argument(help="What is printed.")],
    names: Annotated[list[str] | None, typer.Argument(help="tags: the items. form: the first form's number.")] = None,
    out: Annotated[Path, typer.Option("--out", help="The PDF file; an existing one is not overwritten.")] = Path(
        "sheet.pdf"
    ),
    count: Annotated[int, typer.Option("--count", help="form: how many, numbered on.")] = 1,
    day: Annotated[str, typer.Option("--day", help="The date that the sheet bears.")] = "",
    as_json: JsonOption = False,
) -> None:
    """Print a sheet; the same words and the same day give the same bytes."""
    import json

    from reprocess.clock import SystemClock
    from reprocess.errors import LedgerError, WrongUseError
    from reprocess.papers import as_pdf
    from reprocess.terms import as_datetime

    try:
        bears = date.fromisoformat(day) if day else as_datetime(SystemClock().now().wall_us).date()
    except ValueError as fault:
        message = f"A day is written 2026-12-31, not {day[:20]!r}."
        raise WrongUseError(message) from fault
    made = _sheet(sort, names or [], count)
    pdf = as_pdf(made, bears)
    try:
        with out.open("xb") as file:
            file.write(pdf)
    except FileExistsError as fault:
        message = f"{out} is there already; name another file with --out."
        raise WrongUseError(message) from fault
    except OSError as fault:
        message = f"{out} cannot be written: {fault.strerror}."
        raise LedgerError(message) from fault
    told = {"file": str(out), "day": bears.isoformat(), "codes": made.codes()}
    print(json.dumps(told) if as_json else f"Printed {len(made.codes())} codes to {out}.")


def _sheet(sort: SheetSort, names: list[str], count: int) -> Sheet:
    from reprocess.commandline.options import readable
    from reprocess.errors import WrongUseError
    from reprocess.papers import sheets

    match sort:
        case SheetSort.COMMANDS:
            return sheets.command_sheet()
        case SheetSort.DEFECTS:
            return sheets.defect_sheet()
        case SheetSort.TAGS:
            return sheets.tag_sheet([readable(name) for name in names])
        case SheetSort.FORM:
            if len(names) != 1:
                message = "Name the first form's number, such as FEN-0101."
                raise WrongUseError(message)
            return sheets.form_sheet(sheets.numbers_from(readable(names[0]), count))
        case _:
            assert_never(sort)
