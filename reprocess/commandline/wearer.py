"""`reprocess wearer`: pseudonyms, what they may be issued, and the names that lie beside the record."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption


class WearerVerb(StrEnum):
    """Lists what can be done about wearers."""

    SHOW = "show"
    REGISTER = "register"
    FIND = "find"
    TRAIN = "train"
    CLEAR = "clear"
    FIT = "fit"
    LEAVE = "leave"
    NAME = "name"
    ERASE = "erase"
    RETENTION = "retention"
    PURGE = "purge"


def wearer(
    verb: Annotated[WearerVerb, typer.Argument(help="What is done.")],
    who: Annotated[
        list[str] | None, typer.Argument(help="The pseudonym, or the badge; name, erase: pseudonyms only.")
    ] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="register: where the wearer works.")] = None,
    name: Annotated[str | None, typer.Option("--name", help="register: the name; asked for where left out.")] = None,
    scans: Annotated[str | None, typer.Option("--badge", help="register: the badge that is scanned at issue.")] = None,
    contact: Annotated[str | None, typer.Option("--contact", help="register: how the wearer is reached.")] = None,
    until: Annotated[str | None, typer.Option("--until", help="train, clear, fit: the last day, 2027-03-05.")] = None,
    model: Annotated[str | None, typer.Option("--model", help="fit: the model with its size.")] = None,
    negative: Annotated[bool, typer.Option("--not", help="clear: not cleared. fit: it does not fit.")] = False,
    why: Annotated[
        str | None,
        typer.Option("--why", help="name: exposure, recall, not-returned, eligibility, own-request or audit."),
    ] = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Register a wearer under a pseudonym; train, clear, fit-test; ask for a name, erase it, purge by policy."""
    from reprocess.commandline import wearers
    from reprocess.commandline.opening import bench_at, department_at

    given = wearers.Given(
        verb=verb,
        who=tuple(who or ()),
        unit=unit,
        name=name,
        badge=scans,
        contact=contact,
        until=until,
        model=model,
        positive=not negative,
        why=why,
        key=key,
    )
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, None)
        raise typer.Exit(wearers.done(given, bench, as_json=as_json))
