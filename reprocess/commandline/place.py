"""`reprocess place`: sets up places, puts items away, reads sensors, inspects, opens and seals cabinets."""

from __future__ import annotations

from enum import StrEnum
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
)


class PlaceVerb(StrEnum):
    """Lists what can be done at a place."""

    SHOW = "show"
    SET_UP = "set-up"
    PUT = "put"
    TAKE = "take"
    READ = "read"
    ALARM = "alarm"
    INSPECT = "inspect"
    OPENED = "opened"
    SEAL = "seal"


def place(
    place: Annotated[str, typer.Argument(help="The place's id, such as LMG-ST1.")],
    verb: Annotated[PlaceVerb, typer.Argument(help="What is done.")] = PlaceVerb.SHOW,
    what: Annotated[
        list[str] | None,
        typer.Argument(
            help="set-up: its sort (store, cabinet, quarantine, drying, drop-point, water-point, ward). put, take, "
            "inspect: the item. read: reading=value. alarm: the vapour. opened: the units still there. seal: the units."
        ),
    ] = None,
    title: Annotated[str | None, typer.Option("--title", help="set-up: what people call it.")] = None,
    zone: Annotated[str, typer.Option("--class", help="set-up: clean or dirty.")] = "clean",
    par: Annotated[int | None, typer.Option("--par", help="set-up: ready units that should lie there.")] = None,
    limit: Annotated[
        list[str] | None, typer.Option("--limit", help="set-up: a reading's limits, such as temp_c=5..30.")
    ] = None,
    months: Annotated[int | None, typer.Option("--months", help="set-up: months between inspections.")] = None,
    ask: Annotated[list[str] | None, typer.Option("--ask", help="set-up: a reading each inspection records.")] = None,
    water: Annotated[str | None, typer.Option("--water", help="set-up: drinking, filtered or critical.")] = None,
    seal: Annotated[
        str | None, typer.Option("--seal", help="set-up, inspect, opened, seal: the seal's number.")
    ] = None,
    findings: Annotated[str | None, typer.Option("--findings", help="inspect: what was seen.")] = None,
    action: Annotated[str | None, typer.Option("--action", help="inspect: what was done about it, or none.")] = None,
    failed: Annotated[bool, typer.Option("--failed", help="inspect: it is not good.")] = False,
    missing: Annotated[bool, typer.Option("--missing", help="inspect: it is not there.")] = False,
    broken: Annotated[bool, typer.Option("--seal-broken", help="inspect: its seal is broken.")] = False,
    read: Annotated[list[str] | None, typer.Option("--read", help="inspect: a reading, name=value.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="read: the sensor.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Set up a place, put items away or take them out, log its sensors, inspect units, open and seal cabinets."""
    from reprocess.commandline import places, say
    from reprocess.commandline.opening import bench_at, department_at

    name = readable(place)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        show = say.local_in(opened.zone_of_station(bench.station))
        if verb is PlaceVerb.SHOW:
            raise typer.Exit(places.show(opened, name, show, as_json=as_json))
        given = places.Given(
            place=name,
            what=tuple(what or ()),
            title=title,
            zone=zone,
            par=par,
            limits=pairs(limit, "limit"),
            months=months,
            asks=tuple(ask or ()),
            water=water,
            seal=seal,
            findings=findings,
            action=action,
            passed=not failed,
            missing=missing,
            broken=broken,
            readings=pairs(read, "reading"),
            instrument=instrument,
        )
        answer = bench.ask(places.request_from(verb, given), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
