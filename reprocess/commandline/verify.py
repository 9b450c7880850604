"""`reprocess verify`: whether the record is as it was written."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def verify(
    full: Annotated[bool, typer.Option("--full", help="Also judge that what is projected equals the entries.")] = False,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Verify every entry: its words, the chain and its MAC; names the first bad one."""
    from reprocess.commandline.opening import department_at
    from reprocess.ledger.verify import UNCOVERED

    with department_at(department) as opened:
        report = opened.verify(full=full)
    if as_json:
        found = [{"feed": one.feed, "sentence": one.sentence} for one in report.findings]
        print(json.dumps({"entries": report.entries, "streams": report.streams, "full": full, "findings": found}))
    else:
        for one in report.findings:
            print(f"entry {one.feed}: {one.sentence}")
        word = "sound" if report.sound else "NOT SOUND"
        print(f"{word}: {report.entries} entries of {report.streams} streams. {UNCOVERED}")
    if not report.sound:
        raise typer.Exit(1)
