"""`reprocess verify`: whether the record is as it was written."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def verify(
    full: Annotated[
        bool, typer.Option("--full", help="Also judge that all that is kept, and every release, follows from them.")
    ] = False,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Verify every entry: its words, the chain and its MAC; names the first bad one."""
    from reprocess.commandline.opening import department_at
    from reprocess.ledger import verify as verifying
    from reprocess.terms import as_text

    with department_at(department) as opened:
        report = opened.verify(full=full)
    ended = as_text(report.last_us) if report.last_us is not None else None
    if as_json:
        found = [{"feed": one.feed, "sentence": one.sentence} for one in report.findings]
        counted = {"entries": report.entries, "streams": report.streams, "last_recorded": ended}
        print(
            json.dumps(
                {
                    **counted,
                    "full": full,
                    "findings": found,
                    "uncovered": verifying.UNCOVERED,
                    "unused_keys": report.unused,
                }
            )
        )
    else:
        for one in report.findings:
            print(f"entry {one.feed}: {one.sentence}" if one.feed else one.sentence)
        word = "sound" if report.sound else "NOT SOUND"
        print(f"{word}: {report.entries} entries of {report.streams} streams.")
        print(f"It ends with entry {report.entries}, recorded {ended}. {verifying.UNCOVERED}")
        if report.unused:
            print(verifying.UNUSED)
    if not report.sound:
        raise typer.Exit(1)
