"""`reprocess assemble`: puts ready parts together under an approved configuration."""

from __future__ import annotations

from typing import Annotated

import typer

from reprocess.commandline.options import (
    BadgeOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    SecondOption,
    StationOption,
    pairs,
    readable,
    whole_numbers,
)


def assemble(
    item: Annotated[str, typer.Argument(help="The assembly's id.")],
    configuration: Annotated[str, typer.Argument(help="The approved configuration, such as three-port-hepa.")],
    parts: Annotated[list[str], typer.Argument(help="The ids of its parts.")],
    count: Annotated[list[str] | None, typer.Option("--count", help="Counted parts: gaskets=2, plugs=1.")] = None,
    lot: Annotated[
        list[str] | None, typer.Option("--lot", help="What a place or count was taken from: gaskets=LOT-7.")
    ] = None,
    good: Annotated[bool, typer.Option("--pass", help="Every line of the checklist is good.")] = False,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Assemble a respirator: each place filled once, filters and plugs fill the ports, a gasket to each filter."""
    from reprocess.commandline import say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import Assemble

    name = readable(item)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        part = opened.part(name)
        lines = [one.checks for one in part.workflow.steps if one.assembles] if part is not None else []
        checks = {check.check: True for check in lines[0]} if good and lines else {}
        ids, lots = tuple(readable(one) for one in parts), pairs(lot, "lot")
        request = Assemble(name, configuration, ids, whole_numbers(count), checks, lots)
        answer = bench.ask(request, key=key)
        show = say.local_in(opened.zone_of_station(bench.station))
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
