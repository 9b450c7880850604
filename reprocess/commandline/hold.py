"""`reprocess hold`: places and lifts holds, and puts a held item in quarantine."""

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
    ShownOption,
    StationOption,
    readable,
)


class HoldVerb(StrEnum):
    """Lists what can be done with a hold."""

    PLACE = "place"
    LIFT = "lift"
    QUARANTINE = "quarantine"


def hold(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    verb: Annotated[HoldVerb, typer.Argument(help="Place a hold, lift one, or put the item in a quarantine place.")],
    which: Annotated[str, typer.Argument(help="Its type when placing (defect, ...); its id when lifting; the place.")],
    why: Annotated[str | None, typer.Option("--why", help="place, lift: the cause, or the disposition.")] = None,
    evidence: Annotated[str | None, typer.Option("--evidence", help="A reference to what shows it (H02).")] = None,
    notice: Annotated[str | None, typer.Option("--notice", help="place: a field notice's reference (H12).")] = None,
    owner: Annotated[str, typer.Option("--owner", help="Who settles it.")] = "supervisor",
    shown: ShownOption = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Place a hold on an item (never refused), lift one on its conditions, or put the item in quarantine."""
    from reprocess.commandline import asking, say
    from reprocess.commandline.baths import needed
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import LiftHold, PlaceHold, PutInQuarantine, Request

    reason = asking.said(why if verb is HoldVerb.QUARANTINE else needed(why, "--why")) or ""
    name = readable(item)
    request: Request
    match verb:
        case HoldVerb.PLACE:
            kept = (asking.said(evidence), asking.said(notice))
            request = PlaceHold(name, which, reason, asking.said(owner) or "supervisor", *kept)
        case HoldVerb.LIFT:
            request = LiftHold(name, which, reason, asking.said(evidence))
        case _:
            request = PutInQuarantine(name, readable(which))
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        answer = bench.ask(request, shown=shown, key=key)
        show = say.local_in(opened.zone_of_station(bench.station))
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
