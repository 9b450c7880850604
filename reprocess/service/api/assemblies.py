"""Assemblies over HTTP: which parts they hold, whether each may be worn, and how many are ready at each place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import Library, part_of
from reprocess.ledger.append import Transaction
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.rules import life
from reprocess.rules.answer import Reason
from reprocess.rules.assembly import part_gates
from reprocess.rules.scene import Part
from reprocess.service.answers import ReasonOut, instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import (
    Asked,
    Named,
    department_of,
    each_seen,
    in_sight,
    item_seen,
    reading,
    unknown,
    zone_of,
)
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import ItemLine, line, reason_fields
from reprocess.service.who import Caller, needs
from reprocess.terms import Stage, StreamKind

router = APIRouter(route_class=StrictRoute, tags=["assemblies"])
Reader = Annotated[Caller, Depends(needs("read-items"))]
ASSEMBLY: Final = "assembly"


class AssemblyLine(ItemLine):
    """Is an assembly in a list."""

    configuration: str | None
    members: dict[str, str] = Field(description="Slot to item.")
    ready_until: InstantOut | None


class AssembliesOut(BaseModel):
    """Is one page of assemblies, by id."""

    assemblies: list[AssemblyLine]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


class MemberOut(ItemLine):
    """Is one part of an assembly."""

    slot: str
    reasons: list[ReasonOut] = Field(description="What of this part keeps the assembly from being worn.")


class AssemblyOut(AssemblyLine):
    """Is one assembly with its parts."""

    counts: dict[str, int] = Field(description="Counted parts, such as gaskets.")
    parts: list[MemberOut]
    reasons: list[ReasonOut] = Field(description="Why it must not be worn now, its parts apart; none where it may.")


class ReadyStockOut(BaseModel):
    """Is how many assemblies of one kind are ready at one place."""

    site: str
    place: str | None
    title: str | None
    item_kind: str
    configuration: str | None
    ready: int = Field(description="Usable now.")
    not_usable: int = Field(description="Ready once, and held, out of date or worn since.")
    first_ends: InstantOut | None = Field(description="When the first of the ready ones is no longer ready.")
    par: int | None = Field(description="How many ready units should lie at this place.")


class ReadyBoardOut(BaseModel):
    """Is the board of what is ready by place."""

    as_of: InstantOut
    places: list[ReadyStockOut]


@router.get(
    "/assemblies",
    operation_id="read-assemblies",
    summary="List assemblies",
    response_model=AssembliesOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def assemblies(
    request: Request,
    response: Response,
    who: Reader,
    asked: Paged,
    site: Asked = None,
    place: Asked = None,
    configuration: Asked = None,
    usable: Annotated[bool | None, Query(description="Only what may, or may not, be worn now.")] = None,
) -> dict[str, Any]:
    """Every assembly that the caller may see; the filters all hold together."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        found = (
            one
            for one in _assemblies(read, department.library, who)
            if site in (None, one.standing.site)
            and place in (None, one.standing.place)
            and configuration in (None, one.standing.configuration)
            and usable in (None, _usable(read, department.library, one, now))
        )
        rows, following = page(request, response, found, lambda one: one.standing.item, asked)
        return {"assemblies": [_line(read, department.library, one, now) for one in rows], "next": following}


def _assemblies(read: Transaction, library: Library, who: Caller) -> Iterator[Part]:
    for _, _, item in read.each_of(StreamKind.ITEM):
        if isinstance(item, Standing) and in_sight(who, item.site):
            part = part_of(read, library, item)
            if part is not None and part.workflow.item_class == ASSEMBLY:
                yield part


def _line(read: Transaction, library: Library, part: Part, now: Moment) -> dict[str, Any]:
    item = part.standing
    return line(part, now) | {
        "usable": _usable(read, library, part, now),
        "configuration": item.configuration,
        "members": dict(item.members),
        "ready_until": instant(item.ready_until_us) if item.ready_until_us is not None else None,
    }


def _members(read: Transaction, library: Library, item: Standing) -> list[tuple[str, Part]]:
    """Returns the parts of an assembly with their slots."""
    found = ((slot, part_of(read, library, read.item(name))) for slot, name in item.members.items())
    return [(slot, part) for slot, part in found if part is not None]


def _usable(read: Transaction, library: Library, part: Part, now: Moment) -> bool:
    return not _barred(part, now) and not any(
        _member_barred(one, part.standing, now) for _, one in _members(read, library, part.standing)
    )


def _barred(part: Part, now: Moment) -> list[Reason]:
    """Returns why an assembly must not be worn now, its parts apart."""
    item = part.standing
    if item.stage != Stage.READY:
        return [Reason("U02", "not-ready-to-issue", {"item": item.item, "stage": str(item.stage)})]
    return life.unusable(part.workflow, item, now.wall_us)


def _member_barred(member: Part, whole: Standing, now: Moment) -> list[Reason]:
    """Returns why a part keeps its assembly from being worn: it left, is not ready, held or out of date."""
    item = member.standing
    reasons = []
    if item.assembly != whole.item:
        reasons.append(Reason("C09", "left-assembly", {"item": item.item}))
    if item.stage != Stage.READY:
        reasons.append(Reason("C02", "part-not-ready", {"item": item.item, "stage": str(item.stage)}))
    return [*reasons, *part_gates(member, now.wall_us)]


@router.get(
    "/assemblies/ready",
    operation_id="read-ready-by-place",
    summary="Show what is ready, by place",
    response_model=ReadyBoardOut,
    responses=responses(*READING),
)
def ready(request: Request, who: Annotated[Caller, Depends(needs("read-board"))], site: Asked = None) -> dict[str, Any]:
    """How many assemblies of each kind may be worn now, at each place, beside what should lie there."""
    department = department_of(request)
    now = department.clock.now()
    groups: dict[tuple[str, str, str, str], list[tuple[Part, bool]]] = defaultdict(list)
    with reading(request) as read:
        places = {one.place: one for one in each_seen(read, who, StreamKind.PLACE, Place)}
        for part in _assemblies(read, department.library, who):
            item = part.standing
            if item.stage == Stage.READY and item.custody is None and site in (None, item.site):
                key = (item.site, item.place or "", item.item_kind, item.configuration or "")
                groups[key].append((part, _usable(read, department.library, part, now)))
    return {
        "as_of": instant(now.wall_us),
        "places": [_ready(key, found, places.get(key[1])) for key, found in sorted(groups.items())],
    }


def _ready(key: tuple[str, str, str, str], found: list[tuple[Part, bool]], place: Place | None) -> dict[str, Any]:
    ends = [one.standing.ready_until_us for one, good in found if good and one.standing.ready_until_us is not None]
    good = sum(1 for _, usable in found if usable)
    return {
        "site": key[0],
        "place": key[1] or None,
        "title": place.title if place is not None else None,
        "item_kind": key[2],
        "configuration": key[3] or None,
        "ready": good,
        "not_usable": len(found) - good,
        "first_ends": instant(min(ends)) if ends else None,
        "par": place.par if place is not None else None,
    }


@router.get(
    "/assemblies/{item}",
    operation_id="read-assembly",
    summary="Tell which parts an assembly holds, and whether it may be worn",
    response_model=AssemblyOut,
    responses=responses(*READING, "unknown-subject"),
)
def assembly(request: Request, who: Reader, item: Named) -> dict[str, Any]:
    """Its parts with their slots, each judged now, and what keeps the whole from being worn."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        part = part_of(read, department.library, item_seen(read, who, item))
        if part is None or part.workflow.item_class != ASSEMBLY:
            raise unknown(item)
        zone = zone_of(read, part.standing.site)
        members = _members(read, department.library, part.standing)
        told = _line(read, department.library, part, now)
    return told | {
        "counts": dict(part.standing.counts),
        "parts": [_member(slot, one, part.standing, (now, zone)) for slot, one in members],
        "reasons": [reason_fields(one, zone) for one in _barred(part, now)],
    }


def _member(slot: str, member: Part, whole: Standing, at: tuple[Moment, str]) -> dict[str, Any]:
    now, zone = at
    barred = _member_barred(member, whole, now)
    return line(member, now) | {"slot": slot, "reasons": [reason_fields(one, zone) for one in barred]}
