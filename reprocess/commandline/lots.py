"""From the words of `reprocess lot` to a request, and how a lot is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass

from reprocess.commandline.asking import day_ends_us, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine.request import ClearLot, CountLot, MakeSolution, RecallLot, ReceiveLot, Request, UseLot
from reprocess.errors import WrongUseError
from reprocess.record.states import as_text
from reprocess.rules.lots import NEVER_US
from reprocess.scan.device_label import read_device_label
from reprocess.scan.identifier import UnreadableLabel
from reprocess.terms import as_datetime

LABEL_FIRST = ("]", "(", "+", "=", "&")
"""What a maker's label begins with, beside a bare GTIN (`scan.code`)."""
GTIN_AT = "01"
LABEL_LEAST = 16
"""A bare GS1 label begins with the identifier 01 and the fourteen digits of its GTIN."""


@dataclass(frozen=True, slots=True)
class Named:
    """Is which lot is meant, and what its label said of it."""

    lot: str
    device: str | None = None
    expiry_us: int | None = None
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    named: Named
    what: str | None
    sort: str | None
    until: str | None
    quantity: int
    unit: str | None
    reorder: int | None
    hours: int | None
    why: str | None


def named(text: str, opened: Department, zone: str) -> Named:
    """Returns the lot that a typed number or a scanned maker's label means.

    Raises:
        WrongUseError: the label cannot be read, or names no lot.
    """
    if not _is_label(text):
        return Named(readable(text))
    read = read_device_label(text, this_year=as_datetime(opened.clock.now().wall_us).year)
    if isinstance(read, UnreadableLabel):
        message = f"{read.reason} (seen: {read.echo})"
        raise WrongUseError(message)
    if read.lot is None:
        message = "That label names no lot; type the lot's number."
        raise WrongUseError(message)
    expiry_us = day_ends_us(read.expires.isoformat(), zone) if read.expires is not None else None
    return Named(read.lot, read.device, expiry_us, text)


def _is_label(text: str) -> bool:
    bare = text.startswith(GTIN_AT) and text[:LABEL_LEAST].isdigit() and len(text) > LABEL_LEAST
    return text.startswith(LABEL_FIRST) or bare


def request_from(verb: str, given: Given, opened: Department, zone: str) -> Request:
    """Returns the request that the words mean.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    lot = given.named.lot
    match verb:
        case "receive":
            return _receive(given, zone)
        case "open":
            return _open(given, opened)
        case "use":
            return UseLot(lot, given.quantity, said(given.what) or "not said")
        case "count":
            return CountLot(lot, given.quantity)
        case "recalled":
            return RecallLot(lot, needed(said(given.why), "--why, the notice"))
        case _:
            return ClearLot(lot, needed(said(given.why), "--why, the reason"))


def _receive(given: Given, zone: str) -> Request:
    typed_us = day_ends_us(given.until, zone) if given.until is not None else None
    ends = [one for one in (typed_us, given.named.expiry_us) if one is not None]
    return ReceiveLot(
        given.named.lot,
        given.quantity,
        product=said(given.what),
        sort=given.sort,
        unit=said(given.unit),
        expiry_us=min(ends, default=None),
        reorder_at=given.reorder,
        device=given.named.device,
        label=given.named.label,
    )


def _open(given: Given, opened: Department) -> Request:
    """Returns the request to open a container from a lot on record: its agent and its day need not be typed."""
    lot = opened.lot(given.named.lot)
    name = readable(needed(given.what, "the id of the new container"))
    ends_us = lot.expiry_us if lot.expiry_us is not None else NEVER_US
    return MakeSolution(name, lot.product, lot.lot, ends_us, hours=given.hours)


def show(opened: Department, name: str, local: Local, *, as_json: bool) -> int:
    """Prints where a lot stands and returns the exit code."""
    lot = opened.lot(name)
    if as_json:
        print(json.dumps(json.loads(as_text(lot)), ensure_ascii=False))
        return 0
    until = f"until {local(lot.expiry_us)}" if lot.expiry_us is not None else "no last day"
    print(f"{lot.lot}  {lot.product} ({lot.sort}) at {lot.site}, {until}")
    order = f", order more at {lot.reorder_at}" if lot.reorder_at is not None else ""
    print(f"  left: {lot.left} {lot.unit}; used: {lot.used}{order}")
    if lot.recalled is not None:
        print(f"  STOP. Recalled: {lot.recalled}")
    return 0
