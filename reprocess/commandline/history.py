"""`reprocess history`: every entry about one subject, corrections and anomalies included."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption, readable
from reprocess.terms import StreamKind


def history(
    subject: Annotated[
        str, typer.Argument(help="An item's id, or a stream such as solution:LMG-B2 or station:LMG-D1.")
    ],
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show every entry about an item, a solution, a station or a person, oldest first."""
    from reprocess.commandline import say, showing
    from reprocess.commandline.opening import department_at

    kind, colon, rest = subject.partition(":")
    name = subject if colon and kind in set(StreamKind) else f"{StreamKind.ITEM}:{readable(subject)}"
    with department_at(department) as opened:
        entries = opened.history(name)
        show = say.local_in(opened.zone())
        if as_json:
            print(json.dumps([showing.entry_json(one) for one in entries], ensure_ascii=False))
        else:
            print(
                "\n".join(showing.entry_line(one, show) for one in entries)
                or f"Nothing is on record of {rest or name}."
            )
    if not entries:
        raise typer.Exit(1)
