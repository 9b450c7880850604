"""`reprocess import`: takes a CSV table whole, or tells every fault in it and takes nothing."""  # noqa: N999 - a command is called by its word

from __future__ import annotations

import json
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, StationOption


class Imported(StrEnum):
    """Lists the tables that come in."""

    ITEMS = "items"
    PEOPLE = "people"
    COMPETENCIES = "competencies"
    CONFIGURATIONS = "configurations"
    LOTS = "lots"
    PLACES = "places"
    WEARERS = "wearers"


def import_(
    table: Annotated[Imported, typer.Argument(help="What the file holds.")],
    file: Annotated[Path, typer.Argument(help="The CSV file, UTF-8, with the headings of `reprocess export`.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only check it: tell every fault, take nothing.")] = False,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take a CSV table in one transaction: all of it or nothing. It says what exists, never that anything is ready."""
    from reprocess.commandline import say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.exchange.reading import Fault
    from reprocess.exchange.reading import opened as opened_table
    from reprocess.service.tables import Given, look_through, take

    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, None)
        given = Given(table, lambda: opened_table(file), file.parent, bench.station, bench.badge, bench.second)

        def tell(one: Fault) -> None:
            if as_json:
                print(json.dumps(asdict(one), ensure_ascii=False))
            else:
                print(f"line {one.line}{f', {one.column}' if one.column else ''}: {one.what}. Write {one.write}.")

        looked = look_through(opened, given, tell)
        if looked.faults or dry_run or not looked.new:
            print(_told(looked.fields(), as_json=as_json, dry_run=dry_run))
            raise typer.Exit(1 if looked.faults else 0)
        refused = take(opened, given)
        if refused is not None:
            print("Nothing of the file was taken.")
            raise typer.Exit(say.tell(refused, say.local_in(opened.zone_of_station(bench.station)), as_json=as_json))
        print(_told(looked.fields(), as_json=as_json, dry_run=False))


def _told(fields: dict[str, int], *, as_json: bool, dry_run: bool) -> str:
    if as_json:
        return json.dumps(fields | {"taken": 0 if dry_run or fields["faults"] else fields["new"]})
    if fields["faults"]:
        return f"{fields['faults']} faults in {fields['lines']} lines; nothing was taken."
    if not fields["new"]:
        return f"All {fields['lines']} lines are on record already; nothing was changed."
    done = "would be taken" if dry_run else "were taken"
    return f"{fields['new']} of {fields['lines']} lines {done}; {fields['known']} are on record already."
