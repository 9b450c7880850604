"""`reprocess publish`: one person proposes a file, another puts it in force, a named one confirms its sources."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import (
    BadgeOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    ShownOption,
    StationOption,
)


def publish(
    file: Annotated[
        str,
        typer.Argument(
            help="A workflow, agent, configuration or profile file; or confirm, live, emergency (`./live` is a file)."
        ),
    ],
    name: Annotated[
        str | None,
        typer.Argument(help="confirm: the file's name, such as blower or agent.opa-055. emergency: the site."),
    ] = None,
    approve: Annotated[
        bool, typer.Option("--approve", help="Put exactly this text in force; not by its author.")
    ] = False,
    safety: Annotated[
        bool, typer.Option("--safety", help="With --approve: open cycles go on under it, from the first changed step.")
    ] = False,
    why: Annotated[
        str | None, typer.Option("--why", help="confirm: what was compared with what. emergency: its reference.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", help="emergency: its last day.")] = None,
    shown: ShownOption = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Propose or approve a file; confirm its sources; list what is missing until all numbers are confirmed."""
    from reprocess.commandline import publishing, say
    from reprocess.commandline.opening import bench_at, department_at

    with department_at(department) as opened:
        if file == "live":
            missing = opened.missing_to_live()
            told = json.dumps(publishing.live_json(missing)) if as_json else "\n".join(publishing.live_lines(missing))
            print(told)
            raise typer.Exit(1 if missing else 0)
        bench = bench_at(opened, station, badge, None)
        zone = opened.zone_of_station(bench.station)
        match file:
            case "confirm":
                request = publishing.confirmation(opened, name, why)
            case "emergency":
                request = publishing.emergency(name, why, until, zone)
            case _:
                request = publishing.of_file(opened, Path(file), approve=approve, safety=safety)
        answer = bench.enrol(request, shown=shown, key=key)
        raise typer.Exit(say.tell(answer, say.local_in(zone), as_json=as_json))
