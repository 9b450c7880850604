"""`reprocess hold`: places, lifts and lists holds."""

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


class HoldVerb(StrEnum):
    """Lists what can be done with a hold."""

    PLACE = "place"
    LIFT = "lift"


def hold(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    verb: Annotated[HoldVerb, typer.Argument(help="Place a hold, or lift one.")],
    which: Annotated[str, typer.Argument(help="Its type when placing (defect, recall, ...); its id when lifting.")],
    why: Annotated[str, typer.Option("--why", help="The cause, or the disposition.")],
    owner: Annotated[str, typer.Option("--owner", help="Who settles it.")] = "supervisor",
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Place a hold on an item (never refused), or lift one on its conditions."""
    from reprocess.commandline import asking, say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import LiftHold, PlaceHold, Request

    reason = asking.said(why) or ""
    name = readable(item)
    request: Request
    if verb is HoldVerb.PLACE:
        request = PlaceHold(name, which, reason, asking.said(owner) or "supervisor")
    else:
        request = LiftHold(name, which, reason)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        answer = bench.ask(request, key=key)
        show = say.local_in(opened.zone_of_station(bench.station))
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
