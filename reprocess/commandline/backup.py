"""`reprocess backup`: a verified copy of the record while others go on writing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def backup(
    target: Annotated[Path, typer.Argument(help="The copy to make; it is never overwritten.")],
    key_to: Annotated[
        Path | None,
        typer.Option("--key-to", help="Also copy the key, to this file; keep it apart from the backups, under lock."),
    ] = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy the record while others go on writing, and verify the copy; the key is not in it."""
    from reprocess.commandline.copies import copied_json, copied_line, copy_clock
    from reprocess.commandline.opening import department_at, department_path
    from reprocess.ledger import backup as copying

    with department_at(department) as opened:
        copied = copying.backup(opened.ledger, target)
        copy_clock(department_path(department), target)
        if key_to is not None:
            copying.keep_key_apart(opened.ledger, key_to)
    if as_json:
        print(json.dumps(copied_json(copied) | {"key": str(key_to) if key_to is not None else None}))
        return
    print(f"{target} is verified: {copied_line(copied)}.")
    print(f"The key was copied to {key_to}." if key_to is not None else "The key is not in it; --key-to copies it.")
    print(copying.CAUTION)
