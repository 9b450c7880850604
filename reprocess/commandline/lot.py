"""`reprocess lot`: receives lots, opens containers from them, takes, counts and recalls them."""

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
)


class LotVerb(StrEnum):
    """Lists what can be done with a lot."""

    SHOW = "show"
    RECEIVE = "receive"
    OPEN = "open"
    USE = "use"
    COUNT = "count"
    RECALLED = "recalled"
    CLEARED = "cleared"


def lot(
    lot: Annotated[str, typer.Argument(help="The lot's number, or the maker's label as it was scanned.")],
    verb: Annotated[LotVerb, typer.Argument(help="What is done with it.")] = LotVerb.SHOW,
    what: Annotated[
        str | None,
        typer.Argument(help="receive: the agent, model or product. open: the new container's id. use: what for."),
    ] = None,
    sort: Annotated[
        str | None, typer.Option("--sort", help="receive: agent, part, detergent, strips or other.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", help="receive: its last good day, 2026-12-31.")] = None,
    quantity: Annotated[int, typer.Option("--quantity", help="receive, use: how many. count: how many are left.")] = 1,
    unit: Annotated[str | None, typer.Option("--unit", help="receive: of what, such as canister.")] = None,
    reorder: Annotated[int | None, typer.Option("--reorder", help="receive: order more at so many.")] = None,
    hours: Annotated[int | None, typer.Option("--hours", help="open: in-use life where the site sets one.")] = None,
    why: Annotated[str | None, typer.Option("--why", help="recalled: the notice. cleared: why it may be used.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Receive a lot by its label or by hand, open a container from it, take from it, count it, or bar it."""
    from reprocess.commandline import lots, say
    from reprocess.commandline.opening import bench_at, department_at

    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        zone = opened.zone_of_station(bench.station)
        show = say.local_in(zone)
        named = lots.named(lot, opened, zone)
        if verb is LotVerb.SHOW:
            raise typer.Exit(lots.show(opened, named.lot, show, as_json=as_json))
        given = lots.Given(
            named=named,
            what=what,
            sort=sort,
            until=until,
            quantity=quantity,
            unit=unit,
            reorder=reorder,
            hours=hours,
            why=why,
        )
        answer = bench.ask(lots.request_from(verb, given, opened, zone), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
