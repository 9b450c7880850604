"""`reprocess load`: makes up, runs, judges, unloads and fails a load of a machine; several items in one command."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
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


class LoadVerb(StrEnum):
    """Lists what can be done with a load."""

    OPEN = "open"
    ADD = "add"
    REMOVE = "remove"
    START = "start"
    END = "end"
    UNLOAD = "unload"
    FAIL = "fail"
    SHOW = "show"
    PROGRAMME = "programme"


def load(
    verb: Annotated[LoadVerb, typer.Argument(help="What is done.")],
    load: Annotated[str, typer.Argument(help="The load's id, such as WD1-0042. programme: the machine's.")],
    items: Annotated[list[str] | None, typer.Argument(help="add, remove, unload: the items.")] = None,
    machine: Annotated[str | None, typer.Option("--machine", help="open: the machine.")] = None,
    programme: Annotated[str | None, typer.Option("--programme", help="open, programme: its name.")] = None,
    hottest: Annotated[str | None, typer.Option("--hottest", help="programme: highest temperature in degC.")] = None,
    lasts: Annotated[int | None, typer.Option("--lasts", help="programme: how many seconds it takes.")] = None,
    counted: Annotated[
        int | None, typer.Option("--counted", help="remove, once it began: how many a recount found.")
    ] = None,
    record: Annotated[Path | None, typer.Option("--record", help="end: the logger's file, seconds,degC.")] = None,
    logger: Annotated[str | None, typer.Option("--logger", help="end: the instrument that recorded it.")] = None,
    by_hand: Annotated[
        bool, typer.Option("--by-hand", help="end: the record is a strip chart, typed in; two people.")
    ] = False,
    read: Annotated[list[str] | None, typer.Option("--read", help="end: a reading, name=value.")] = None,
    good: Annotated[bool, typer.Option("--pass", help="end: every line of the checklist is good.")] = False,
    yes: Annotated[list[str] | None, typer.Option("--yes", help="end: a line that is good.")] = None,
    no: Annotated[list[str] | None, typer.Option("--no", help="end: a line that is not.")] = None,
    indicator: Annotated[
        list[str] | None, typer.Option("--indicator", help="end: an indicator, name=passed or name=failed.")
    ] = None,
    interrupted: Annotated[
        bool, typer.Option("--interrupted", help="end: the power failed, or the door was opened.")
    ] = False,
    resumed: Annotated[
        str | None, typer.Option("--resumed", help="end: what shows that the machine went on as it must.")
    ] = None,
    more: Annotated[bool, typer.Option("--more", help="unload: further items are still to come.")] = False,
    recount: Annotated[bool, typer.Option("--recount", help="unload: two people counted the whole load.")] = False,
    because: Annotated[
        str | None, typer.Option("--because", help="fail: indicator, calibration, cycle, power, record, other.")
    ] = None,
    why: Annotated[str | None, typer.Option("--why", help="fail: what was seen, in words.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make up, run, judge, unload or fail a load of a machine; without its record no load has passed."""
    from reprocess.commandline import asking, loading, say
    from reprocess.commandline.opening import bench_at, department_at

    name = readable(load)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        show = say.local_in(opened.zone_of_station(bench.station))
        if verb is LoadVerb.SHOW:
            raise typer.Exit(loading.show(opened, name, show, as_json=as_json))
        given = loading.Given(
            load=name,
            items=tuple(readable(item) for item in items or ()),
            machine=readable(machine) if machine is not None else None,
            programme=asking.said(programme),
            hottest=hottest,
            lasts_s=lasts,
            counted=counted,
            record=record,
            logger=readable(logger) if logger is not None else None,
            by_hand=by_hand,
            readings=pairs(read, "reading"),
            good=good,
            yes=tuple(yes or ()),
            no=tuple(no or ()),
            indicators=pairs(indicator, "indicator"),
            interrupted=interrupted,
            resumed=asking.said(resumed),
            more=more,
            recount=recount,
            because=because,
            why=asking.said(why),
        )
        answer = bench.ask(loading.request_from(verb, given, opened), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
