"""Items over HTTP: where each stands, now or at a past instant, its history, and what may come next or why not."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.gathering import local, part_of
from reprocess.gathering.lookback import standing_at
from reprocess.ledger.append import Transaction
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing, Wear
from reprocess.rules import life, signing
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.service import shapes
from reprocess.service.answers import ClockOut, Instant, ReasonOut, as_us, instant, through_us
from reprocess.service.paging import PAGE_HEADERS, Numbered, Paged, page, page_of_numbers
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import (
    Named,
    department_of,
    for_caller,
    in_sight,
    item_seen,
    reading,
    zone_of,
)
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import (
    EntryOut,
    Filtered,
    ItemLine,
    clock_fields,
    entry_fields,
    items_found,
    line,
    reason_fields,
)
from reprocess.service.who import Caller, needs
from reprocess.terms import Stage, StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["items"])

WearOut = shapes.model_of(Wear, "WearOut", leave={"signals"})


class LifeOut(BaseModel):
    """Is how far one limit of an item's life, or the pass of a recurring step, is used up."""

    limit: str = Field(description="The limit, or the step that recurs.", examples=["cycles"])
    by: str = Field(description="What is counted: the limit itself, days or charge-cycles.")
    seen: int = Field(description="How much is used up; times in seconds.")
    most: int = Field(description="How much there is, in the same unit.")
    over: bool
    near: bool


_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "wear": (WearOut | None, Field(description="The wearing that goes on, or that it was not cleaned after.")),
    "zone": (str, Field(description="The time zone of its site.", examples=["Europe/London"])),
    "since_local": (str, Field(description="`since` in that zone, with its offset.")),
    "as_of": (InstantOut, Field(description="The instant for which all of this was true.")),
    "next_steps": (list[str], Field(description="The steps that may come next, in the workflow's order.")),
    "clock": (ClockOut | None, Field(description="The clock that runs, as of `as_of`.")),
    "life": (list[LifeOut], Field(description="Limits of its life and recurring steps.")),
    "not_usable": (list[ReasonOut], Field(description="Why an item that is ready must not be used now.")),
    "in_force": (str, Field(description="The digest of the workflow that is in force; `digest` is this cycle's.")),
    "example": (bool, Field(description="Whether its workflow rests on example numbers.")),
}
ItemOut = shapes.model_of(Standing, "ItemOut", leave={"anomaly_of", "wear"}, more=_MORE)


class ItemsOut(BaseModel):
    """Is one page of items, by id."""

    items: list[ItemLine]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


class EntriesOut(BaseModel):
    """Is one page of a history, oldest first."""

    entries: list[EntryOut]
    next: int | None = Field(description="The `after` of the next page; none at the end.")


Reader = Annotated[Caller, Depends(needs("read-items"))]
Historian = Annotated[Caller, Depends(needs("read-history"))]
_KNOWN: Final = responses(*READING, "unknown-subject")


@router.get(
    "/items",
    operation_id="read-items",
    summary="List items, by id",
    response_model=ItemsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def items(request: Request, response: Response, who: Reader, wanted: Filtered, asked: Paged) -> dict[str, Any]:
    """Every item that the caller may see, in short; the filters all hold together."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        rows, following = page(request, response, items_found(read, who, wanted), lambda one: one.item, asked)
        parts = [part_of(read, department.library, one) for one in rows]
        return {"items": [line(part, now) for part in parts if part is not None], "next": following}


@router.get(
    "/items/{item}",
    operation_id="read-item",
    summary="Tell where one item stands, now or at a past instant",
    response_model=ItemOut,
    responses=responses(*READING, "unknown-subject", "wrong-use"),
)
def item(
    request: Request,
    who: Reader,
    item: Named,
    as_of: Annotated[Instant | None, Query(description="A past instant, RFC 3339 with its offset.")] = None,
) -> dict[str, Any]:
    """Its stage, its steps with their evidence, its clock, holds, custody, parts and life.

    At a past instant it is told from the entries that were on record by then; one told to the second means its end.
    """
    department = department_of(request)
    now = department.clock.now()
    if as_of is not None and as_us(as_of) > now.wall_us:
        message = "That instant is still to come."
        raise WrongUseError(message)
    at_us = min(through_us(as_of), now.wall_us) if as_of is not None else None
    with reading(request) as read:
        found = item_seen(read, who, item)
        if at_us is not None:
            found = _then(read, who, found, at_us)
            now = _moment_then(found, at_us)
        part = part_of(read, department.library, found)
        zone = zone_of(read, found.site)
    assert part is not None  # what is on record has a workflow  # noqa: S101
    return item_fields(part, now, zone, who)


class ShownOut(BaseModel):
    """Is what whoever signs about an item looks at, and the digest that they send as `shown`."""

    item: str
    text: str
    shown: str = Field(description="SHA-256 of the text, in hexadecimal; a signature on anything newer is refused.")


@router.get(
    "/items/{item}/shown",
    operation_id="read-item-shown",
    summary="Show what a signature about an item is bound to",
    response_model=ShownOut,
    responses=responses(*READING, "unknown-subject"),
)
def shown(request: Request, who: Reader, item: Named) -> dict[str, Any]:
    """The text and its digest: a release, a lift or a condemnation that quotes it is refused once it changed (I22)."""
    with reading(request) as read:
        found = item_seen(read, who, item)
    text = signing.shown_text(stream(StreamKind.ITEM, found.item), found)
    return {"item": found.item, "text": text, "shown": signing.digest_of(text)}


def _then(read: Transaction, who: Caller, found: Standing, at_us: int) -> Standing:
    past = standing_at(read, found.item, read.touches.last_feed_at(at_us))
    if not past.known or not in_sight(who, past.site):
        message = f"{found.item} was not on record then."
        raise UnknownSubjectError(message, item=found.item)
    return past


def _moment_then(item: Standing, at_us: int) -> Moment:
    """Returns the clocks at a past instant, as if nothing had happened to them since the item's latest entry."""
    if item.change is None:
        return Moment(at_us, 0, None, "", "")
    last = item.change.moment
    return replace(last, wall_us=at_us, mono_us=last.mono_us + at_us - last.wall_us)


def item_fields(part: Part, now: Moment, zone: str, who: Caller) -> dict[str, Any]:
    """Returns where an item stands as the values of `ItemOut`."""
    item = for_caller(part.standing, who)
    barred = life.unusable(part.workflow, item, now.wall_us) if item.stage == Stage.READY else []
    return shapes.values_of(item, ("anomaly_of", "wear")) | {
        "wear": shapes.values_of(item.wear, ("signals",)) if item.wear is not None else None,
        "zone": zone,
        "since_local": local(zone, item.since_us).isoformat(timespec="seconds"),
        "as_of": instant(now.wall_us),
        "next_steps": list(next_steps(part.workflow, item, now.wall_us)),
        "clock": clock_fields(item, now),
        "life": _life(part, now),
        "not_usable": [reason_fields(one, zone) for one in barred],
        "in_force": part.current_digest,
        "example": part.workflow.example,
    }


def _life(part: Part, now: Moment) -> list[dict[str, Any]]:
    limits = life.wear(part.workflow, part.standing, now.wall_us)
    again = life.recurring(part.workflow, part.standing, now.wall_us)
    return [
        *(_used_up(one.limit.limit, one.limit.limit, one, over=one.reached) for one in limits),
        *(_used_up(one.block.step, one.by, one, over=one.over) for one in again),
    ]


def _used_up(limit: str, by: str, one: life.Wear | life.Recurs, *, over: bool) -> dict[str, Any]:
    return {"limit": limit, "by": by, "seen": one.seen, "most": one.most, "over": over, "near": one.near}


@router.get(
    "/items/{item}/entries",
    operation_id="read-item-entries",
    summary="Tell an item's history, oldest first",
    response_model=EntriesOut,
    responses={200: {"headers": PAGE_HEADERS}, **_KNOWN},
)
def entries(request: Request, response: Response, who: Historian, item: Named, asked: Numbered) -> dict[str, Any]:
    """Every entry of the item's own history; an entry is corrected by a later one, never changed."""
    with reading(request) as read:
        found = item_seen(read, who, item)
        kept = read.entries_of(stream(StreamKind.ITEM, found.item))
    rows, following = page_of_numbers(request, response, kept, lambda one: one.number, asked)
    return {
        "entries": [entry_fields(one, who) for one in rows],
        "next": int(following) if following is not None else None,
    }
