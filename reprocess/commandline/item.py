"""`reprocess item`: where one item stands and what may come next; or makes an item known."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption, readable


def item(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    commission: Annotated[
        str | None, typer.Option("--commission", help="Make the item known, under this workflow (P06).")
    ] = None,
    model: Annotated[str, typer.Option("--model", help="commission: its model.")] = "not said",
    serial: Annotated[str | None, typer.Option("--serial", help="commission: its serial number.")] = None,
    quantity: Annotated[int, typer.Option("--quantity", min=1, max=100_000, help="commission: of a batch.")] = 1,
    in_service: Annotated[str | None, typer.Option("--in-service", help="commission: its first day.")] = None,
    sealed_until: Annotated[
        str | None, typer.Option("--sealed-until", help="commission: its package's last day.")
    ] = None,
    as_of: Annotated[str | None, typer.Option("--as-of", help="As it stood at this instant, with its offset.")] = None,
    lot: Annotated[str | None, typer.Option("--lot", help="commission: the lot it comes from.")] = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show where an item stands, its clock, its holds and what may come next; or commission it."""
    from reprocess.commandline import asking, say, showing, tracing
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.enrolling import Commission

    name = readable(item)
    with department_at(department) as opened:
        if commission is None:
            at_us = asking.at_instant(as_of) if as_of is not None else None
            part = opened.part(opened.item(name).item) if at_us is None else opened.part_as_of(name, at_us)
            if part is None:
                return
            show = say.local_in(opened.zone_of_site(part.standing.site))
            now = opened.clock.now() if at_us is None else tracing.moment_then(part.standing, at_us)
            if as_json:
                print(json.dumps(showing.item_json(part, now), ensure_ascii=False))
            else:
                print("\n".join(showing.item_lines(part, now, show)))
            return
        bench = bench_at(opened, station, badge, None)
        zone = opened.zone_of_station(bench.station)
        request = Commission(
            item=name,
            workflow=commission,
            model=asking.said(model) or "not said",
            serial=asking.said(serial),
            quantity=quantity,
            in_service_us=asking.day_begins_us(in_service, zone) if in_service is not None else None,
            sealed_expiry_us=asking.day_ends_us(sealed_until, zone) if sealed_until is not None else None,
            lot=readable(lot) if lot is not None else None,
        )
        answer = bench.enrol(request, key=key)
        raise typer.Exit(say.tell(answer, say.local_in(zone), as_json=as_json))
