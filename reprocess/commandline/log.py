"""`reprocess log`: one scan about one item: a step, a clock, a fact."""

from __future__ import annotations

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
    whole_numbers,
)

ACTIONS = ("start", "rewet", "dried", "removed", "rinsed", "moved", "opened", "done")


def log(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    what: Annotated[
        str,
        typer.Argument(
            help="A step of its workflow; or a fact: used, dropped, opened, mixed, touched, soaked, found, "
            "returned-from-repair, repair, lost, condemn, undo, correct, unsealed, charged, worn, moved-to, "
            "store-check, method."
        ),
    ],
    action: Annotated[
        str | None,
        typer.Argument(
            help=f"For steps on a clock: {', '.join(ACTIONS)}. For method, correct, charged, worn: which, how many."
        ),
    ] = None,
    solution: Annotated[str | None, typer.Option("--in", help="The bath or opened container used.")] = None,
    temp: Annotated[str | None, typer.Option("--temp", help="Temperature of the solution in degC.")] = None,
    good: Annotated[bool, typer.Option("--pass", help="Every line of the checklist is good.")] = False,
    yes: Annotated[list[str] | None, typer.Option("--yes", help="A line of the checklist that is good.")] = None,
    no: Annotated[list[str] | None, typer.Option("--no", help="A line of the checklist that is not.")] = None,
    read: Annotated[list[str] | None, typer.Option("--read", help="A reading, name=value.")] = None,
    count: Annotated[list[str] | None, typer.Option("--count", help="A count, name=number.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="The measuring instrument used.")] = None,
    fail: Annotated[list[str] | None, typer.Option("--fail", help="A defect code: the step did not pass.")] = None,
    trace: Annotated[Path | None, typer.Option("--trace", help="CSV of seconds,degC of a thermal step.")] = None,
    undisturbed: Annotated[
        bool, typer.Option("--undisturbed", help="Two people confirm that a bath was left alone (E07).")
    ] = False,
    why: Annotated[str | None, typer.Option("--why", help="A reason or note, in words.")] = None,
    kind: Annotated[str, typer.Option("--class", help="Contamination class of a use.")] = "routine",
    ended: Annotated[str | None, typer.Option("--ended", help="When use ended, with offset.")] = None,
    happened: Annotated[str | None, typer.Option("--happened", help="For a late entry: when, with offset.")] = None,
    began: Annotated[str | None, typer.Option("--began", help="For a late entry of a clock: its start.")] = None,
    paper: Annotated[str | None, typer.Option("--paper", help="For a late entry: the form's number.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Log a step, a clock or a fact of one item; the answer says what it comes to."""
    from reprocess.commandline import asking, say
    from reprocess.commandline.opening import bench_at, department_at

    given = asking.Given(
        item=readable(item),
        what=what,
        action=action,
        solution=readable(solution) if solution is not None else None,
        temp=temp,
        good=good,
        yes=tuple(yes or ()),
        no=tuple(no or ()),
        readings=pairs(read, "reading"),
        counts=whole_numbers(count),
        instrument=readable(instrument) if instrument is not None else None,
        defects=tuple(fail or ()),
        trace=trace,
        undisturbed=undisturbed,
        why=why,
        contamination_class=kind,
        ended=ended,
        happened=happened,
        began=began,
        paper=paper,
    )
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        request = asking.request_from(given, opened)
        answer = bench.ask(request, key=key)
        show = say.local_in(opened.zone_of_station(bench.station))
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
