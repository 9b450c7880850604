"""`reprocess case`: exposure cases, for occupational health and infection prevention."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption


class CaseVerb(StrEnum):
    """Lists what can be done with a case, in the order in which it is done."""

    SHOW = "show"
    GRADE = "grade"
    DECIDE = "decide"
    LIST = "list"
    TOLD = "told"
    ACT = "act"
    REPORT = "report"
    KEEP = "keep"
    CLOSE = "close"


def case(
    case: Annotated[str | None, typer.Argument(help="The case's id; every case is listed where left out.")] = None,
    verb: Annotated[CaseVerb, typer.Argument(help="What is done.")] = CaseVerb.SHOW,
    what: Annotated[
        str | None,
        typer.Argument(help="grade: the use's number. told: the wearer. decide, report: yes or no. keep: the file."),
    ] = None,
    how: Annotated[
        str | None,
        typer.Argument(help="grade: gross or lower. told: in-person, telephone, letter, message or not-reached."),
    ] = None,
    why: Annotated[str | None, typer.Option("--why", help="Why, or what was done; never a wearer's name.")] = None,
    sort: Annotated[str, typer.Option("--media-type", help="keep: what the file is.")] = "application/octet-stream",
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the exposure cases; or look into one, grade its uses, decide, tell, act, report, keep a file, close."""
    from reprocess.commandline import cases
    from reprocess.commandline.opening import bench_at, department_at

    given = cases.Given(case=case, verb=verb, what=what, how=how, why=why, sort=sort, key=key)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, None)
        raise typer.Exit(cases.done(given, bench, as_json=as_json))
