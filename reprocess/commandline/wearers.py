"""From the words of `reprocess wearer` to requests, and how wearers are shown: by pseudonym, unless a name is asked."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field

import typer

from reprocess.commandline import say
from reprocess.commandline.asking import day_ends_us, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.say import Local
from reprocess.department import Bench
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.ledger.names import Name
from reprocess.record.states import as_text
from reprocess.record.wearers import Wearer
from reprocess.rules.cautions import CAUTIONS


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text; who somebody is, is left out of what is printed of it."""

    verb: str
    who: tuple[str, ...]
    unit: str | None
    name: str | None = field(repr=False)
    badge: str | None = field(repr=False)
    contact: str | None = field(repr=False)
    until: str | None
    model: str | None
    positive: bool
    why: str | None
    key: str | None


def done(given: Given, bench: Bench, *, as_json: bool) -> int:
    """Does what was typed, prints what came of it, and returns the exit code.

    Raises:
        WrongUseError: the words mean nothing.
    """
    zone = bench.department.zone_of_station(bench.station)
    show = say.local_in(zone)
    match given.verb:
        case "show":
            return _shown(bench.department.wearer(_meant(given, bench)), show, as_json=as_json)
        case "find":
            return _found(bench.department.wearer_of_badge(_one(given)), as_json=as_json)
        case "retention":
            return _retention(bench, as_json=as_json)
        case "name":
            return _named(given, bench, show, as_json=as_json)
        case "register":
            return _registered(given, bench, show, as_json=as_json)
        case _:
            return say.tell(bench.ask(_request(given, bench, zone), key=given.key), show, as_json=as_json)


def _request(given: Given, bench: Bench, zone: str) -> Request:
    until_us = day_ends_us(given.until, zone) if given.until is not None else None
    match given.verb:
        case "train":
            return asking.TrainWearer(_meant(given, bench), day_ends_us(needed(given.until, "--until"), zone))
        case "clear":
            return asking.ClearWearer(_meant(given, bench), given.positive, until_us)
        case "fit":
            return asking.FitTestWearer(_meant(given, bench), needed(given.model, "--model"), given.positive, until_us)
        case "leave":
            return asking.WearerLeaves(_meant(given, bench))
        case "erase":
            return asking.EraseName(_one(given))
        case _:
            return asking.PurgeNames(tuple(readable(one) for one in given.who))


def _one(given: Given) -> str:
    if len(given.who) != 1:
        message = f"`wearer {given.verb}` is about one wearer: give one pseudonym."
        raise WrongUseError(message)
    return readable(given.who[0])


def _meant(given: Given, bench: Bench) -> str:
    """Returns the pseudonym that was typed, or the one that a scanned badge of a wearer means."""
    named = _one(given)
    return bench.department.wearer_of_badge(named) or named


def _registered(given: Given, bench: Bench, show: Local, *, as_json: bool) -> int:
    """Registers a wearer; the name is asked for at the terminal where it was not typed, so that no history keeps it."""
    name = said(given.name if given.name is not None else typer.prompt("Name", err=True)) or ""
    badge = readable(given.badge) if given.badge is not None else None
    back = _one(given) if given.who else None
    person = Name(name, badge, said(given.contact))
    answer = bench.register(person, said(needed(given.unit, "--unit")) or "", wearer=back, key=given.key)
    return say.tell(answer, show, as_json=as_json)


def _named(given: Given, bench: Bench, show: Local, *, as_json: bool) -> int:
    asked = asking.ReadNames(tuple(readable(one) for one in given.who), needed(given.why, "--why"))
    answer, names = bench.reveal(asked, key=given.key)
    if not answer.accepted:
        return say.tell(answer, show, as_json=as_json)
    if answer.repeated:
        message = "That key was used already and shows no name again; leave --key out."
        raise WrongUseError(message)
    if as_json:
        print(json.dumps({wearer: asdict(name) for wearer, name in names.items()}, ensure_ascii=False))
        return 0
    print(CAUTIONS["privacy"])
    for wearer in asked.wearers:
        print(name_line(wearer, names.get(wearer)))
    return 0


def name_line(wearer: str, name: Name | None) -> str:
    """Returns who a wearer is as one line."""
    if name is None:
        return f"{wearer}  no name is kept"
    return "  ".join([wearer, name.name, name.badge or "no badge", name.contact or "no contact"])


def _shown(known: Wearer, show: Local, *, as_json: bool) -> int:
    if as_json:
        print(json.dumps(json.loads(as_text(known)), ensure_ascii=False))
        return 0
    left = "" if known.active else "  (left)"
    print(f"{known.wearer}  {known.unit}{left}")
    trained = show(known.trained_until_us) if known.trained_until_us is not None else "never"
    cleared = "no" if not known.cleared else _until(known.cleared_until_us, show)
    print(f"  trained until: {trained}; cleared: {cleared}")
    fits = [f"{model} {_until(until_us, show)}" for model, until_us in sorted(known.fits.items())]
    print(f"  fits: {', '.join(fits) or 'none on record'}")
    return 0


def _until(until_us: int | None, show: Local) -> str:
    return "without an end" if until_us is None else f"until {show(until_us)}"


def _found(wearer: str | None, *, as_json: bool) -> int:
    if wearer is None:
        message = "No wearer has that badge."
        raise WrongUseError(message)
    print(json.dumps({"wearer": wearer}) if as_json else wearer)
    return 0


def _retention(bench: Bench, *, as_json: bool) -> int:
    kept = bench.department.kept()
    if as_json:
        print(json.dumps([asdict(one) for one in kept], ensure_ascii=False))
        return 0
    for one in kept:
        print(f"{one.record}: {one.total} kept, {one.past} past {one.period}; {one.then}")
        print(f"  {one.source}")
    return 0
