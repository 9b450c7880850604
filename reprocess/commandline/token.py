"""`reprocess token`: lets programs in, shows which there are, and lets them in no longer; of screens the last two."""

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
    StationOption,
    readable,
)


class TokenVerb(StrEnum):
    """Lists what can be done with tokens."""

    LIST = "list"
    ISSUE = "issue"
    WITHDRAW = "withdraw"


def token(
    verb: Annotated[TokenVerb, typer.Argument(help="What is done.")] = TokenVerb.LIST,
    token: Annotated[str | None, typer.Argument(help="issue, withdraw: its id, your own choice; no secret.")] = None,
    label: Annotated[str, typer.Option("--label", help="issue: whose it is and what for.")] = "not said",
    scope: Annotated[list[str] | None, typer.Option("--scope", help="issue: what it may; repeat it.")] = None,
    site: Annotated[list[str] | None, typer.Option("--site", help="issue: where it counts; repeat it.")] = None,
    everywhere: Annotated[bool, typer.Option("--every-site", help="issue: it counts at every site.")] = False,
    until: Annotated[str | None, typer.Option("--until", help="issue: the last day, within a year.")] = None,
    why: Annotated[str, typer.Option("--why", help="withdraw: the reason.")] = "not said",
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """List the tokens of programs and screens; or issue a program's, which is shown once; or withdraw one."""
    from reprocess.commandline import admitting, say
    from reprocess.commandline.asking import day_ends_us, said
    from reprocess.commandline.baths import needed
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.request import IssueToken, WithdrawToken
    from reprocess.errors import WrongUseError

    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, second)
        zone = opened.zone_of_station(bench.station)
        show, now_us = say.local_in(zone), opened.clock.now().wall_us
        if verb is TokenVerb.LIST:
            found = admitting.listed(bench)
            told = [json.dumps(admitting.token_json(one, now_us)) for one in found]
            print("\n".join(told if as_json else admitting.token_lines(found, now_us, show)))
            return
        name = readable(needed(token, "the token's id"))
        if verb is TokenVerb.WITHDRAW:
            answer = bench.ask(WithdrawToken(name, said(why) or ""), key=key)
            raise typer.Exit(say.tell(answer, show, as_json=as_json))
        if bool(site) == everywhere:
            message = "Say where it counts: --site, or --every-site."
            raise WrongUseError(message)
        scopes, sites = tuple(scope or ()), tuple(readable(one) for one in site or ())
        last_us = day_ends_us(needed(until, "--until"), zone)
        answer, secret = admitting.issue(bench, IssueToken(name, said(label) or "", scopes, sites, last_us), key)
        code = say.tell(answer, show, as_json=as_json)
        if secret is not None:
            print(json.dumps({"secret": secret}) if as_json else f"  Shown once, keep it now: {secret}")
        raise typer.Exit(code)
