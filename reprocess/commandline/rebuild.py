"""`reprocess rebuild`: everything that follows from the entries made anew, and proven equal."""

from __future__ import annotations

import json
from dataclasses import asdict

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def rebuild(
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make standings, contacts, badges and reminders anew from the entries; say what was not as it should be."""
    from reprocess.commandline.opening import department_at
    from reprocess.ledger.rebuild import rebuild as rebuilding
    from reprocess.scheduling import refresh_all

    with department_at(department) as opened:
        rebuilt = rebuilding(opened.ledger, refresh=lambda work: refresh_all(work, opened.library))
    if as_json:
        print(json.dumps(asdict(rebuilt)))
    else:
        for mended in rebuilt.mended:
            print(f"mended: {mended}")
        for one in rebuilt.differences:
            print(f"{one.subject} in {one.table}: {one.what}")
        if rebuilt.total > len(rebuilt.differences):
            print(f"... and {rebuilt.total - len(rebuilt.differences)} more")
        word = "equal" if rebuilt.equal else "PUT RIGHT"
        print(f"{word}: {rebuilt.entries} entries of {rebuilt.streams} streams, {rebuilt.total} rows differed.")
    if not rebuilt.equal:
        raise typer.Exit(1)
