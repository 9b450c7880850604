"""`reprocess board`: items by stage, what comes next, running clocks and holds."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def board(
    site: Annotated[str | None, typer.Option("--site", help="Only this site.")] = None,
    stage: Annotated[str | None, typer.Option("--stage", help="Only this stage.")] = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show every item by stage, with its next step, its clock and its holds."""
    from reprocess.commandline import say, showing
    from reprocess.commandline.opening import department_at
    from reprocess.errors import WrongUseError
    from reprocess.terms import Stage

    if stage is not None and stage not in set(Stage):
        message = f"A stage is one of {', '.join(Stage)}, not {stage[:20]!r}."
        raise WrongUseError(message)
    with department_at(department) as opened:
        now = opened.clock.now()
        found = [opened.part(one.item) for one in opened.items(site=site, stage=stage)]
        parts = [part for part in found if part is not None]
        if as_json:
            print(json.dumps([showing.item_json(part, now) for part in parts], ensure_ascii=False))
            return
        print("\n".join(showing.board_lines(parts, now, say.local_in(opened.zone()))))
