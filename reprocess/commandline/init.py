"""`reprocess init`: makes a department from its file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption


def init(
    file: Annotated[Path, typer.Argument(help="The department's YAML file; examples/department.yaml shows one.")],
    department: DepartmentOption = None,
) -> None:
    """Make a department from one YAML file: sites, stations, first people, competencies, first items."""
    from reprocess.commandline.opening import department_path
    from reprocess.department import found_department
    from reprocess.shipped import read_file

    read = read_file(file)
    path = department_path(department)
    with found_department(path, read.text, name=file.name) as opened:
        total = sum(1 for _ in opened.items())
        print(f"{path} is a department with {len(opened.stations())} stations and {total} items.")
        print(f"Its key is {path.name}.key: keep a copy elsewhere, never in the same backup.")
