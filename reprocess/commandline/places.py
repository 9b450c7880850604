"""From the words of `reprocess place` to a request, and how a place is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass

from reprocess.commandline.asking import said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import pairs, readable
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine.request import (
    AlarmVapour,
    InspectUnit,
    OpenCabinet,
    OpenPlace,
    PutAway,
    ReadPlace,
    Request,
    SealCabinet,
    TakeOut,
)
from reprocess.errors import WrongUseError
from reprocess.record.standing import Standing
from reprocess.record.states import as_text


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    place: str
    what: tuple[str, ...]
    title: str | None
    zone: str
    par: int | None
    limits: dict[str, str]
    months: int | None
    asks: tuple[str, ...]
    water: str | None
    seal: str | None
    findings: str | None
    action: str | None
    passed: bool
    missing: bool
    broken: bool
    readings: dict[str, str]
    instrument: str | None


def request_from(verb: str, given: Given) -> Request:
    """Returns the request that the words mean.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    match verb:
        case "set-up":
            return _set_up(given)
        case "put":
            return PutAway(readable(_one(given, "the item")), given.place)
        case "take":
            return TakeOut(readable(_one(given, "the item")))
        case "read":
            return _read(given)
        case "alarm":
            return AlarmVapour(given.place, _one(given, "the vapour"))
        case "inspect":
            return _inspect(given)
        case "opened":
            present = tuple(readable(one) for one in given.what)
            return OpenCabinet(given.place, said(given.seal) or "not said", present)
        case _:
            units = tuple(readable(one) for one in given.what)
            return SealCabinet(given.place, needed(said(given.seal), "--seal"), units)


def _one(given: Given, what: str) -> str:
    if len(given.what) != 1:
        message = f"This takes one at a time: name {what}, and nothing else."
        raise WrongUseError(message)
    return given.what[0]


def _set_up(given: Given) -> Request:
    return OpenPlace(
        given.place,
        said(given.title) or given.place,
        _one(given, "the sort of place"),
        given.zone,
        par=given.par,
        limits=given.limits,
        seal=said(given.seal),
        every_months=given.months,
        asks=given.asks,
        grade=given.water,
    )


def _read(given: Given) -> Request:
    (name, value), *_ = pairs([_one(given, "one reading=value")], "reading").items()
    tool = readable(given.instrument) if given.instrument is not None else None
    return ReadPlace(given.place, name, value, tool)


def _inspect(given: Given) -> Request:
    return InspectUnit(
        readable(_one(given, "the item")),
        findings=said(given.findings),
        action=said(given.action),
        passed=given.passed,
        missing=given.missing,
        seal_broken=given.broken,
        seal=said(given.seal),
        readings=given.readings,
    )


def show(opened: Department, name: str, local: Local, *, as_json: bool) -> int:
    """Prints where a place stands and what lies there, first due first, and returns the exit code."""
    place = opened.place(name)
    items = sorted(opened.items_at(name), key=_due_first)
    if as_json:
        kept = json.loads(as_text(place)) | {"items": [one.item for one in items]}
        print(json.dumps(kept, ensure_ascii=False))
        return 0
    seal = f", seal {place.seal}" if place.seal is not None else ""
    par = f", par {place.par}" if place.par is not None else ""
    print(f"{place.place}  {place.title}: {place.zone} {place.sort} at {place.site}{par}{seal}")
    for reading, seen in sorted(place.seen.items()):
        good = "in limits" if seen.good else "OUT OF LIMITS"
        print(f"  {reading} {seen.value} ({seen.limit}), {good}, {local(seen.at_us)}")
    for one in items:
        until = f", until {local(one.ready_until_us)}" if one.ready_until_us is not None else ""
        held = "  ON HOLD" if one.held else ""
        print(f"  {one.item}  {one.stage}{until}{held}")
    if place.restock is not None:
        print(f"  fill up: {place.restock}")
    return 0


def _due_first(item: Standing) -> tuple[bool, int, str]:
    return item.ready_until_us is None, item.ready_until_us or 0, item.item
