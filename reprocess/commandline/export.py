"""`reprocess export`: writes a table as CSV."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption
from reprocess.errors import WrongUseError


class Exported(StrEnum):
    """Lists the tables that go out."""

    ITEMS = "items"
    PEOPLE = "people"
    COMPETENCIES = "competencies"
    CONFIGURATIONS = "configurations"
    LOTS = "lots"
    PLACES = "places"
    WEARERS = "wearers"
    ENTRIES = "entries"
    DUE = "due"


def export(
    table: Annotated[Exported, typer.Argument(help="What is written.")],
    out: Annotated[Path | None, typer.Option("--out", help="The new file; standard output where left out.")] = None,
    department: DepartmentOption = None,
) -> None:
    """Write a table as CSV with stable headings; wearers by pseudonym only, formulas of spreadsheets disarmed."""
    from reprocess.commandline.opening import department_at
    from reprocess.exchange.writing import write_table
    from reprocess.ledger.append import looking

    with department_at(department) as opened, looking(opened.ledger) as read:
        if out is None:
            write_table(sys.stdout, table, read)
            return
        try:
            with out.open("x", encoding="utf-8", newline="") as file:
                count = write_table(file, table, read)
        except FileExistsError as fault:
            message = f"{out} is there already: name another file, or move it away."
            raise WrongUseError(message) from fault
        except OSError as fault:
            message = f"{out} cannot be written: {fault.strerror or fault}."
            raise WrongUseError(message) from fault
    print(f"{out} has {count} lines of {table}.")
