"""`reprocess review`: the supervisor's queue, the signature of who looked, and a second person's consent."""

from __future__ import annotations

import json
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
)


class ReviewVerb(StrEnum):
    """Lists what can be done with the queue."""

    LIST = "list"
    SHOW = "show"
    COUNTERSIGN = "countersign"
    REFUSALS = "refusals"
    AGREE = "agree"


def review(
    verb: Annotated[ReviewVerb, typer.Argument(help="What is done.")] = ReviewVerb.LIST,
    what: Annotated[
        str | None,
        typer.Argument(
            help="show: the entry's number, or a rule. countersign: the number. agree: the subject, such as item:KIT-7."
        ),
    ] = None,
    to: Annotated[
        str | None,
        typer.Argument(help="agree: to what, such as lift-hold, condemn, override; a hold, step or rule next."),
    ] = None,
    about: Annotated[str | None, typer.Argument(help="agree: which hold, step, entry or rule it is about.")] = None,
    why: Annotated[str | None, typer.Option("--why", help="countersign, refusals: what was found.")] = None,
    shown: ShownOption = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what is unusual and waits for review; countersign one entry; agree to a request as second person."""
    from reprocess.commandline import reviewing, say
    from reprocess.commandline.opening import bench_at, department_at

    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        show = say.local_in(opened.zone_of_station(bench.station))
        if verb is ReviewVerb.LIST:
            waiting, refusals = opened.waiting_for_review()
            if as_json:
                print(json.dumps(reviewing.queue_json(waiting, refusals), ensure_ascii=False))
            else:
                print("\n".join(reviewing.queue_lines(waiting, refusals, show)))
            raise typer.Exit(1 if waiting or refusals else 0)
        rule = reviewing.rule_of(what)
        if verb is ReviewVerb.SHOW and rule is not None:
            print(reviewing.rule_told(rule, as_json=as_json))
            return
        if verb is ReviewVerb.SHOW:
            told = reviewing.shown_of(opened, reviewing.number_of(what))
            print(json.dumps(told, ensure_ascii=False) if as_json else "\n".join(reviewing.shown_lines(told)))
            return
        request = reviewing.request_of(opened, verb, reviewing.Given(what, to, about, why))
        answer = bench.ask(request, shown=shown, key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
