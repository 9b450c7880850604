"""`reprocess instrument`: registers measuring instruments, records verifications and faults."""

from __future__ import annotations

import json
from enum import StrEnum
from typing import Annotated

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, KeyOption, StationOption, readable


class InstrumentVerb(StrEnum):
    """Lists what can be done about an instrument."""

    SHOW = "show"
    REGISTER = "register"
    VERIFIED = "verified"
    FAULTY = "faulty"


def instrument(
    instrument: Annotated[str, typer.Argument(help="The instrument's id, such as FI-09.")],
    verb: Annotated[InstrumentVerb, typer.Argument(help="What is done.")] = InstrumentVerb.SHOW,
    what: Annotated[
        str | None, typer.Argument(help="register: its sort, such as flow-indicator. verified: the reference used.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", help="verified: the last day that it counts.")] = None,
    why: Annotated[str, typer.Option("--why", help="faulty: what was found.")] = "not said",
    charger: Annotated[
        str | None, typer.Option("--charger", help="register: the charger that a bay is part of.")
    ] = None,
    models: Annotated[list[str] | None, typer.Option("--model", help="register: a model that a bay charges.")] = None,
    coldest: Annotated[str | None, typer.Option("--coldest", help="register: degC from which a bay charges.")] = None,
    warmest: Annotated[str | None, typer.Option("--warmest", help="register: degC up to which a bay charges.")] = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show an instrument; or register it, record its verification, or that it was found faulty (M02)."""
    from reprocess.commandline import asking, say
    from reprocess.commandline.baths import needed
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine.enrolling import Enrol
    from reprocess.record import words
    from reprocess.record.states import as_text
    from reprocess.rules.places import range_of
    from reprocess.terms import StreamKind, stream

    name = readable(instrument)
    with department_at(department) as opened:
        bench = bench_at(opened, station, badge, None)
        zone = opened.zone_of_station(bench.station)
        show = say.local_in(zone)
        match verb:
            case InstrumentVerb.SHOW:
                known = opened.instrument(name)
                until_us = known.verified_until_us
                believed = (
                    "faulty" if known.faulty else f"verified until {show(until_us)}" if until_us else "unverified"
                )
                print(json.dumps(json.loads(as_text(known))) if as_json else f"{name}  {known.sort}, {believed}")
                return
            case InstrumentVerb.REGISTER:
                for end in (coldest, warmest):
                    if end is not None:
                        range_of(f"{end}..")
                body: words.Body = words.InstrumentRegistered(
                    sort=needed(what, "its sort"),
                    site=opened.site_of_station(bench.station),
                    part_of=readable(charger) if charger is not None else None,
                    models=tuple(models) if models else None,
                    least_c=coldest,
                    most_c=warmest,
                )
            case InstrumentVerb.VERIFIED:
                body = words.InstrumentVerified(
                    until_us=asking.day_ends_us(needed(until, "--until"), zone),
                    reference=asking.said(what) or "not said",
                )
            case _:
                body = words.InstrumentFaulty(finding=asking.said(why) or "")
        answer = bench.enrol(Enrol(stream(StreamKind.INSTRUMENT, name), body), key=key)
        raise typer.Exit(say.tell(answer, show, as_json=as_json))
