"""`reprocess init`: makes a department from its file, or by asking."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption

ASKED_FILE = "department.yaml"
YEAR_DAYS = 365


def init(
    file: Annotated[
        Path | None, typer.Argument(help="The department's YAML file (examples/department.yaml); asks where left out.")
    ] = None,
    department: DepartmentOption = None,
) -> None:
    """Make a department: sites, stations, first people, competencies, first items, and the workflows in force."""
    from reprocess.commandline.opening import department_place
    from reprocess.department import Server, found_department
    from reprocess.rules.cautions import EXAMPLE, GENERAL
    from reprocess.shipped import read_file

    text = read_file(file).text if file is not None else _asked(Path(ASKED_FILE))
    place = department_place(department)
    with found_department(place, text, name=file.name if file is not None else ASKED_FILE) as opened:
        total = sum(1 for _ in opened.items())
        name, key = (place.database, place.key_file) if isinstance(place, Server) else (place, f"{place.name}.key")
        print(f"{name} is a department with {len(opened.stations())} stations and {total} items.")
        print(f"Its key is {key}: keep a copy elsewhere, never in the same backup.")
        print(EXAMPLE)
        print(GENERAL)


def _asked(path: Path) -> str:
    """Returns the text of a department's file from questions on the terminal, and keeps it under that name."""
    from datetime import timedelta

    from reprocess.clock import SystemClock
    from reprocess.commandline.interview import department_text
    from reprocess.errors import WrongUseError
    from reprocess.terms import as_datetime

    if path.exists():
        message = f"{path} exists already: use it (`reprocess init {path}`), or move it away."
        raise WrongUseError(message)
    today = as_datetime(SystemClock().now().wall_us).date()
    text = department_text(
        lambda question, default: str(typer.prompt(question, default=default)),
        today.isoformat(),
        (today + timedelta(days=YEAR_DAYS)).isoformat(),
    )
    path.write_text(text, encoding="utf-8")
    print(f"What you said is kept in {path}.")
    return text
