"""`reprocess log`: one scan about one item: a step, a clock, a fact."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import (
    BadgeOption,
    BecauseOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    OverrideOption,
    OverUntilOption,
    ReferenceOption,
    SecondOption,
    ShownOption,
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
            "returned-from-repair, repair, repaired, lost, condemn, undo, correct, unsealed, charged, worn, moved-to, "
            "store-check, method; or about its tag: typed, tag, untag, doubt, rename, split, not-this-item."
        ),
    ],
    action: Annotated[
        str | None,
        typer.Argument(
            help=f"For steps on a clock: {', '.join(ACTIONS)}. For method, correct, charged, worn, tag, typed, "
            "rename: which, how many. not-this-item: the entry's number."
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
    lot: Annotated[str | None, typer.Option("--lot", help="The lot that a step used, such as the detergent's.")] = None,
    water: Annotated[str | None, typer.Option("--water", help="The water point of a rinse.")] = None,
    statement: Annotated[
        str | None, typer.Option("--statement", help="repair: which portions are still contaminated.")
    ] = None,
    waste: Annotated[
        str | None, typer.Option("--waste", help="condemn: general, regulated, battery, electrical, recycled.")
    ] = None,
    test: Annotated[str | None, typer.Option("--test", help="repaired: how it was tested, with the result.")] = None,
    by: Annotated[str | None, typer.Option("--by", help="repaired: who brought it back.")] = None,
    fitted: Annotated[
        list[str] | None, typer.Option("--fitted", help="repaired: a part and its lot, part=lot.")
    ] = None,
    override: OverrideOption = None,
    because: BecauseOption = None,
    over_until: OverUntilOption = None,
    reference: ReferenceOption = None,
    shown: ShownOption = None,
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
    from reprocess.commandline.overrides import override_from

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
        lot=readable(lot) if lot is not None else None,
        water=readable(water) if water is not None else None,
        statement=statement,
        waste=waste,
        test=test,
        returned_by=by,
        parts=pairs(fitted, "part and lot"),
    )
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        request = asking.request_from(given, opened)
        zone = opened.zone_of_station(bench.station)
        over = override_from(override, because, why, over_until, reference, zone)
        answer = bench.ask(request, override=over, shown=shown, key=key)
        show = say.local_in(zone)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
