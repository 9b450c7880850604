"""`reprocess issue`: hands an item to a wearer; lends it, sends it to another site, keeps it for somebody."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from reprocess.definitions.wearing import WearStep
    from reprocess.department import Department
    from reprocess.engine.request import Request


class IssueVerb(StrEnum):
    """Lists what can be done with an item that leaves, or has left."""

    WEARER = "wearer"
    LOOK = "look"
    IDENTIFY = "identify"
    HAND_ON = "hand-on"
    LEND = "lend"
    SEND = "send"
    KEEP = "keep"


@dataclass(frozen=True, slots=True)
class _Given:
    """Is what was typed, still as text."""

    item: str
    to: str | None
    place: str | None
    purpose: str
    minutes: int | None
    due: str | None
    container: str | None
    clean: bool
    good: bool
    no: tuple[str, ...]
    readings: dict[str, str]
    counts: dict[str, int]
    instrument: str | None
    entry: int | None


def issue(
    item: Annotated[str, typer.Argument(help="The item's id, as on its tag.")],
    verb: Annotated[
        IssueVerb, typer.Argument(help="To a wearer; look shows the look-over; identify names the wearer later.")
    ] = IssueVerb.WEARER,
    to: Annotated[
        str | None, typer.Option("--to", help="The wearer's badge or pseudonym; lend: who borrows it; send: the site.")
    ] = None,
    place: Annotated[str | None, typer.Option("--place", help="Unit and room to which it goes.")] = None,
    purpose: Annotated[str, typer.Option("--for", help="care, emergency, training or fit-test.")] = "care",
    minutes: Annotated[int | None, typer.Option("--minutes", help="How long it is expected to be worn.")] = None,
    good: Annotated[bool, typer.Option("--pass", help="Every line of the look-over is good.")] = False,
    no: Annotated[list[str] | None, typer.Option("--no", help="A line of the look-over that is not good.")] = None,
    reading: Annotated[list[str] | None, typer.Option("--read", "--reading", help="A reading: soc_percent=95.")] = None,
    count: Annotated[list[str] | None, typer.Option("--count", help="Counted parts: gaskets=2, plugs=1.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="The flow indicator used.")] = None,
    due: Annotated[str | None, typer.Option("--due", help="lend: the day on which it is due back.")] = None,
    container: Annotated[str | None, typer.Option("--container", help="send: the closed container.")] = None,
    clean: Annotated[bool, typer.Option("--clean", help="send: in clean closed packaging.")] = False,
    entry: Annotated[int | None, typer.Option("--entry", help="identify: the entry of the issue.")] = None,
    why: Annotated[str | None, typer.Option("--why", help="For --override: what happened, in words.")] = None,
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
    """Issue an item to a wearer after looking it over; lend it, send it, or keep it for one place or wearer."""
    from reprocess.commandline import say
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.commandline.overrides import override_from

    given = _Given(
        readable(item),
        to,
        place,
        purpose,
        minutes,
        due,
        readable(container) if container is not None else None,
        clean,
        good,
        tuple(no or ()),
        pairs(reading, "reading"),
        whole_numbers(count),
        readable(instrument) if instrument is not None else None,
        entry,
    )
    with department_at(department) as opened:
        if verb is IssueVerb.LOOK:
            print(_look_json(given.item, opened) if as_json else "\n".join(_look_lines(given.item, opened)))
            return
        bench = bench_at(opened, station, badge, second)
        zone = opened.zone_of_station(bench.station)
        over = override_from(override, because, why, over_until, reference, zone)
        answer = bench.ask(_REQUESTS[verb](given, opened, zone), override=over, shown=shown, key=key)
        raise typer.Exit(say.tell(answer, say.local_in(zone), as_json=as_json))


def _look(item: str, opened: Department) -> WearStep | None:
    """Returns what is looked over when the item is issued, or None where nothing is.

    Raises:
        UnknownSubjectError: the item is not on record.
    """
    from reprocess.errors import UnknownSubjectError
    from reprocess.rules.custody import look_of

    part = opened.part(item)
    if part is None:
        message = f"{item} is not on record."
        raise UnknownSubjectError(message, item=item)
    return look_of(part.workflow)


def _look_json(item: str, opened: Department) -> str:
    """Returns the same lines as JSON text."""
    import json

    look = _look(item, opened)
    if look is None:
        return json.dumps({"item": item, "checks": {}, "counts": [], "readings": {}, "instrument": None})
    told = {
        "item": item,
        "checks": {one.check: one.text for one in look.checks},
        "counts": [one.count for one in look.counts],
        "readings": {one.reading: one.unit for one in look.readings},
        "instrument": look.instrument,
    }
    return json.dumps(told, ensure_ascii=False)


def _look_lines(item: str, opened: Department) -> list[str]:
    """Returns the lines that are looked at when the item is issued."""
    look = _look(item, opened)
    if look is None:
        return [f"{item}: nothing is looked over at issue beyond its tag."]
    lines = [f"{item}: look it over before it is taken"]
    lines += [f"  {one.check:<18} {one.text}" for one in look.checks]
    lines += [f"  count  {one.count}" for one in look.counts]
    lines += [f"  read   {one.reading}, in {one.unit}" for one in look.readings]
    return [*lines, *([f"  with   a {look.instrument}"] if look.instrument is not None else [])]


def _wearer(given: _Given, opened: Department, what: str) -> str:
    """Returns the pseudonym that was typed, or the one that a scanned badge of a wearer means."""
    from reprocess.errors import UnknownSubjectError

    named = readable(_needed(given.to, what))
    try:
        return opened.wearer(named).wearer
    except UnknownSubjectError:
        return opened.wearer_of_badge(named) or named


def _needed(text: str | None, what: str) -> str:
    from reprocess.commandline import asking
    from reprocess.errors import WrongUseError

    said = asking.said(text)
    if said is None:
        message = f"Say {what}."
        raise WrongUseError(message)
    return said


def _to_wearer(given: _Given, opened: Department, _: str) -> Request:
    from reprocess.engine.request import IssueItem
    from reprocess.rules.custody import look_of

    part = opened.part(given.item)
    look = look_of(part.workflow) if part is not None else None
    checks = {one.check: True for one in look.checks} if given.good and look is not None else {}
    return IssueItem(
        given.item,
        _wearer(given, opened, "who takes it: --to") if given.to is not None else None,
        _needed(given.place, "to which unit and room it goes: --place"),
        given.purpose,
        given.minutes,
        {**checks, **dict.fromkeys(given.no, False)},
        given.readings,
        given.counts,
        given.instrument,
    )


def _identify(given: _Given, opened: Department, _: str) -> Request:
    from reprocess.engine.request import IdentifyWearer

    return IdentifyWearer(given.item, _wearer(given, opened, "who has it, by badge or pseudonym: --to"), given.entry)


def _hand_on(given: _Given, opened: Department, _: str) -> Request:
    from reprocess.engine.request import HandOn

    return HandOn(given.item, _wearer(given, opened, "who puts it on again, by badge or pseudonym: --to"))


def _lend(given: _Given, _: Department, zone: str) -> Request:
    from reprocess.commandline import asking
    from reprocess.engine.request import LendItem

    day = asking.day_ends_us(_needed(given.due, "on which day it is due back: --due 2026-12-31"), zone)
    return LendItem(given.item, _needed(given.to, "who borrows it: --to"), day)


def _send(given: _Given, _: Department, __: str) -> Request:
    from reprocess.engine.request import SendItem

    return SendItem(given.item, _needed(given.to, "the site to which it goes: --to"), given.container, given.clean)


def _keep(given: _Given, opened: Department, _: str) -> Request:
    from reprocess.commandline import asking
    from reprocess.engine.request import DedicateItem

    wearer = _wearer(given, opened, "for whom: --to") if given.to is not None else None
    return DedicateItem(given.item, asking.said(given.place), wearer)


_REQUESTS: dict[IssueVerb, Callable[[_Given, Department, str], Request]] = {
    IssueVerb.WEARER: _to_wearer,
    IssueVerb.IDENTIFY: _identify,
    IssueVerb.HAND_ON: _hand_on,
    IssueVerb.LEND: _lend,
    IssueVerb.SEND: _send,
    IssueVerb.KEEP: _keep,
}
