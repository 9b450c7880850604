"""`reprocess publish`: one person proposes a file, another one puts it in force."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption


def publish(
    file: Annotated[Path, typer.Argument(help="A workflow, agent, configuration or profile file.")],
    approve: Annotated[
        bool, typer.Option("--approve", help="Put exactly this text in force; not by its author.")
    ] = False,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Propose a file for use, or approve the one proposed; an edited file drives nothing until both are done."""
    from reprocess.commandline import checking, say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.enrolling import Approve, Publish
    from reprocess.shipped import read_file

    read = read_file(file)
    with department_at(department) as opened:
        sort = checking.sound_or_raise(read, opened)
        bench = bench_at(opened, station, badge, None)
        request = Approve(sort, read.name, read.digest) if approve else Publish(sort, read.name, read.digest, read.text)
        answer = bench.enrol(request, key=key)
        raise typer.Exit(say.tell(answer, say.local_in(opened.zone_of_station(bench.station)), as_json=as_json))
