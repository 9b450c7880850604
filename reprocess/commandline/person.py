"""`reprocess person`: registers people, gives and withdraws badges and competencies, chooses first PINs."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption, readable


class PersonVerb(StrEnum):
    """Lists what can be done about a person."""

    SHOW = "show"
    REGISTER = "register"
    BADGE = "badge"
    UNBADGE = "unbadge"
    GRANT = "grant"
    WITHDRAW = "withdraw"
    LEFT = "left"
    PIN = "pin"
    UNLOCK = "unlock"


def person(
    person: Annotated[str, typer.Argument(help="The person's id.")],
    verb: Annotated[PersonVerb, typer.Argument(help="What is done.")] = PersonVerb.SHOW,
    what: Annotated[
        str | None,
        typer.Argument(help="register: the name. badge, unbadge: the badge. grant, withdraw: the competency."),
    ] = None,
    site: Annotated[list[str] | None, typer.Option("--site", help="register: a site where the person works.")] = None,
    role: Annotated[list[str] | None, typer.Option("--role", help="register: a role.")] = None,
    kind: Annotated[list[str] | None, typer.Option("--kind", help="grant: a kind of item; all where left out.")] = None,
    model: Annotated[list[str] | None, typer.Option("--model", help="grant: a model; all where left out.")] = None,
    trainee: Annotated[bool, typer.Option("--trainee", help="grant: only beside a competent person (A03).")] = False,
    verifier: Annotated[
        str | None, typer.Option("--verifier", help="grant: who compared a certificate entered later (E39).")
    ] = None,
    temporary: Annotated[bool, typer.Option("--temporary", help="register: agency or lent staff (A04).")] = False,
    since: Annotated[
        str | None, typer.Option("--since", help="grant: the first day, 2026-03-05. withdraw: invalid since that day.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", help="grant: the last day.")] = None,
    assessor: Annotated[str, typer.Option("--assessor", help="grant: who found the person competent.")] = "not said",
    why: Annotated[str, typer.Option("--why", help="withdraw, unbadge, left, unlock: the reason.")] = "not said",
    pin_file: Annotated[
        Path | None, typer.Option("--pin-file", help="pin: a file that holds the PIN; typed unseen where left out.")
    ] = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show a person; or register one, give a badge, a competency or a first PIN; or unlock their sign-in."""
    from reprocess.commandline import admitting, asking, people, say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.enrolling import Enrol
    from reprocess.engine.request import UnlockSignIn
    from reprocess.terms import StreamKind, stream

    name = readable(person)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, None)
        zone = opened.zone_of_station(bench.station)
        show = say.local_in(zone)
        if verb is PersonVerb.SHOW:
            known = opened.person(name)
            print(json.dumps(people.person_json(known)) if as_json else "\n".join(people.person_lines(known, show)))
            return
        if verb is PersonVerb.PIN:
            answer = admitting.set_pin(bench, name, admitting.typed_pin(pin_file), key)
            raise typer.Exit(say.tell(answer, show, as_json=as_json))
        if verb is PersonVerb.UNLOCK:
            answer = bench.ask(UnlockSignIn(name, asking.said(why) or ""), key=key)
            raise typer.Exit(say.tell(answer, show, as_json=as_json))
        given = people.Given(
            what=what,
            sites=tuple(site or ()),
            roles=tuple(role or ()),
            kinds=tuple(kind or ()),
            since=since,
            until=until,
            assessor=assessor,
            why=why,
            models=tuple(model or ()),
            trainee=trainee,
            verifier=verifier,
            temporary=temporary,
        )
        body = people.body_from(verb, given, zone)
        answer = bench.enrol(Enrol(stream(StreamKind.PERSON, name), body), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
