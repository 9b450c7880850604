"""`reprocess restore`: a department from a backup and its key."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def restore(
    copy: Annotated[Path, typer.Argument(help="The backup.")],
    key: Annotated[Path, typer.Option("--key", help="The key of the record, which is never in the backup.")],
    erased: Annotated[
        Path | None, typer.Option("--erased", help="A list of erased names, kept beside the lost department.")
    ] = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make a department from a backup and its key; an existing department is never overwritten."""
    from reprocess.commandline.copies import MISSING, copied_json, copied_line, copy_clock
    from reprocess.commandline.opening import department_path, department_place
    from reprocess.department import Server
    from reprocess.errors import LedgerError
    from reprocess.ledger import backup as copying

    if isinstance(department_place(department), Server):
        raise LedgerError(copying.ON_SERVER)
    path = department_path(department)
    copied = copying.restore(copy, key, path, erased)
    copy_clock(copy, path)
    if as_json:
        print(json.dumps(copied_json(copied)))
        return
    print(f"{path} is a department again and verified: {copied_line(copied)}.")
    print(MISSING)
