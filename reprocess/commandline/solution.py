"""`reprocess solution`: makes up or opens, tests, tops up and ends a bath or container."""

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
    readable,
)


class SolutionVerb(StrEnum):
    """Lists what can be done with a solution."""

    MAKE = "make"
    TEST = "test"
    TOP_UP = "top-up"
    END = "end"
    SHOW = "show"


def solution(
    solution: Annotated[str, typer.Argument(help="The bath's or container's id, such as LMG-B2.")],
    verb: Annotated[SolutionVerb, typer.Argument(help="What is done with it.")] = SolutionVerb.SHOW,
    what: Annotated[
        str | None, typer.Argument(help="make: the agent. end: dumped, spilled, empty, dry, expired.")
    ] = None,
    lot: Annotated[
        str | None, typer.Option("--lot", help="make, top-up: the agent's lot. test: the strips' lot.")
    ] = None,
    lot_until: Annotated[str | None, typer.Option("--lot-until", help="The last day of that lot, 2026-12-31.")] = None,
    hours: Annotated[int | None, typer.Option("--hours", help="make: in-use life where the site sets one.")] = None,
    percent: Annotated[str | None, typer.Option("--percent", help="make: strength of the stock.")] = None,
    stock: Annotated[str | None, typer.Option("--stock", help="make: parts of stock (1 plus n).")] = None,
    water: Annotated[str | None, typer.Option("--water", help="make: parts of water added (1 plus n).")] = None,
    one_in: Annotated[
        str | None, typer.Option("--one-in", help="make: total parts holding one of stock (1 in n).")
    ] = None,
    litres: Annotated[str | None, typer.Option("--litres", help="make, top-up: volume.")] = None,
    temp: Annotated[str | None, typer.Option("--temp", help="make: temperature in degC.")] = None,
    reading: Annotated[str | None, typer.Option("--reading", help="test: what the strip reads.")] = None,
    passed: Annotated[bool | None, typer.Option("--passed/--failed", help="test: for strips without a number.")] = None,
    control: Annotated[bool, typer.Option("--control", help="test: the control strip was run.")] = False,
    after: Annotated[int | None, typer.Option("--after", help="test: seconds until the strip was read.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make up, test, top up or end a solution; a failed test holds what it reached."""
    from reprocess.commandline import asking, baths, say
    from reprocess.commandline.opening import bench_at, department_at

    name = readable(solution)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        zone = opened.zone_of_station(bench.station)
        show = say.local_in(zone)
        if verb is SolutionVerb.SHOW:
            raise typer.Exit(baths.show(opened, name, show, as_json=as_json))
        given = baths.Given(
            solution=name,
            what=what,
            lot=asking.said(lot),
            lot_until=lot_until,
            hours=hours,
            percent=percent,
            stock=stock,
            water=water,
            one_in=one_in,
            litres=asking.said(litres),
            temp=temp,
            reading=reading,
            passed=passed,
            control=control,
            after=after,
        )
        answer = bench.ask(baths.request_from(verb, given, zone), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
