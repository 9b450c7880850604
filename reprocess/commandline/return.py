"""`reprocess return`: takes an item back, from a wearer, from a loan or from another site."""  # noqa: N999 - a command is called by its word

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
    readable,
)


def return_(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    parts: Annotated[list[str] | None, typer.Argument(help="The parts that came with it, as scanned.")] = None,
    missing: Annotated[
        list[str] | None, typer.Option("--missing", help="A part that is not there, or its slot.")
    ] = None,
    place: Annotated[str | None, typer.Option("--place", help="The drop point; this station where absent.")] = None,
    kind: Annotated[str, typer.Option("--class", help="routine, soiled, blood or isolation.")] = "routine",
    soiled: Annotated[bool, typer.Option("--soiled", help="Soil is seen on it.")] = False,
    unused: Annotated[bool, typer.Option("--unused", help="It was not worn; it is cleaned all the same.")] = False,
    fault: Annotated[str | None, typer.Option("--fault", help="What its wearer reported.")] = None,
    cut_off: Annotated[bool, typer.Option("--cut-off", help="It was cut off its wearer.")] = False,
    incident: Annotated[str | None, typer.Option("--incident", help="The reference of the incident report.")] = None,
    ended: Annotated[str | None, typer.Option("--ended", help="When use ended, with offset.")] = None,
    received: Annotated[bool, typer.Option("--received", help="It came from another site, well packed.")] = False,
    opened_on_its_way: Annotated[bool, typer.Option("--opened", help="It came from another site, opened.")] = False,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take an item back: a fact, at any drop point. Say which parts came, and what is seen on it."""
    from reprocess.commandline import asking, say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import ReceiveItem, Request, ReturnItem

    name = readable(item)
    request: Request
    if received or opened_on_its_way:
        request = ReceiveItem(name, intact=not opened_on_its_way)
    else:
        request = ReturnItem(
            name,
            asking.said(place),
            tuple(readable(one) for one in parts) if parts else None,
            tuple(missing or ()),
            kind,
            soiled=soiled,
            used=not unused,
            fault=asking.said(fault),
            cut_off=cut_off,
            incident=asking.said(incident),
            use_ended_us=asking.at_instant(ended) if ended is not None else None,
        )
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        answer = bench.ask(request, key=key)
        show = say.local_in(opened.zone_of_station(bench.station))
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
