"""`reprocess form`: enters what was written down, or queued by a station, while the record was out of reach."""

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
)


class FormVerb(StrEnum):
    """Lists what can be done with forms and queues."""

    ENTER = "enter"
    MERGE = "merge"
    SHOW = "show"
    KEY = "key"


def form(
    verb: Annotated[
        FormVerb,
        typer.Argument(help="enter: a CSV of forms. merge: a station's queue. show: one form. key: for a station."),
    ],
    what: Annotated[str, typer.Argument(help="The file; show: the form's number; key: the station.")],
    day: Annotated[str | None, typer.Option("--day", help="enter: the local day of times such as 14:05.")] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what it would come to; record nothing.")] = False,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Enter paper forms or merge a station's queue; what contradicts the record is told first."""
    from reprocess.commandline import entering
    from reprocess.commandline.opening import bench_at, department_at, department_path

    if verb is FormVerb.KEY:
        raise typer.Exit(entering.new_key(department_path(department), what, as_json=as_json))
    with department_at(department) as opened:
        if verb is FormVerb.SHOW:
            raise typer.Exit(entering.show(opened, what, as_json=as_json))
        if verb is FormVerb.MERGE:
            queue = entering.queue_in(Path(what), department_path(department))
            bench = bench_at(opened, station or queue.station, badge, second)
            batch = entering.batch_of_queue(queue, opened, opened.zone_of_station(bench.station))
        else:
            bench = bench_at(opened, station, badge, second)
            batch = entering.batch_in(Path(what), opened, opened.zone_of_station(bench.station), day)
        raise typer.Exit(entering.enter(batch, bench, key, rehearsed=dry_run, as_json=as_json))
