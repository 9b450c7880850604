"""`reprocess lookback`: who and what touched something, now or as the record stood at a past instant."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, StationOption


class Shape(StrEnum):
    """Lists how an answer is given."""

    TABLE = "table"
    GRAPH = "graph"


def lookback(
    sort: Annotated[
        str,
        typer.Argument(
            help="What about: item, bath, load, lot, instrument, person, model, place, workflow, wearer, case."
        ),
    ],
    name: Annotated[str, typer.Argument(help="Which one, such as BLW-0041; a wearer by pseudonym.")],
    since: Annotated[str | None, typer.Option("--from", help="From this instant on, with its offset.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="Until this instant.")] = None,
    as_of: Annotated[str | None, typer.Option("--as-of", help="As the record stood at this instant.")] = None,
    shape: Annotated[Shape, typer.Option("--shape", help="A table, or a graph as Mermaid text.")] = Shape.TABLE,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show who wore what, where and when, what touched what, and the cycles between two wearers.

    What one wearer wore, and an exposure case, are shown to those alone who may see cases; that is put on record.
    """
    from reprocess.commandline import say, tracing
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.lookback.graph import mermaid

    asked = tracing.asked(sort, name, since, until, as_of)
    with department_at(department) as opened:
        show = say.local_in(tracing.zone_of(opened, asked))
        needed = tracing.permission_for(asked)
        if needed is not None:
            answer = bench_at(opened, station, badge, None).ask(needed)
            if not answer.accepted:
                raise typer.Exit(say.tell(answer, show, as_json=as_json))
        found = opened.lookback(
            asked.sort, asked.name, from_us=asked.from_us, until_us=asked.until_us, as_of_us=asked.as_of_us
        )
    if as_json:
        print(tracing.as_json(found))
    elif shape is Shape.GRAPH:
        print(mermaid(found, show), end="")
    else:
        print("\n".join(tracing.lines(found, show)))
    if not found.items:
        raise typer.Exit(1)
