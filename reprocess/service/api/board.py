"""The board over HTTP: every item by stage and place, with its clock, its holds and what is overdue."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request

from reprocess.gathering import part_of
from reprocess.record.moment import Moment
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Part
from reprocess.service.answers import instant
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import department_of, reading
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import Filtered, ItemLine, items_found, line
from reprocess.service.who import Caller, needs
from reprocess.terms import ASIDE, SPINE, StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["board"])


class BoardLine(ItemLine):
    """Is one item on the board."""

    overdue: bool = Field(description="Whether something about it is past due.")


class BoardGroup(BaseModel):
    """Is the items of one stage at one place, what is most urgent first."""

    stage: str
    place: str | None
    count: int
    items: list[BoardLine]


class BoardOut(BaseModel):
    """Is the board: every item that is in the department or out, by stage and place."""

    as_of: InstantOut
    site: str | None
    groups: list[BoardGroup]
    counts: dict[str, int] = Field(description="How many stand at each stage.")
    held: int = Field(description="How many are on hold.")
    ready: dict[str, int] = Field(
        description="How many usable ones lie at each place, without those out or built in; `` for no place."
    )


@router.get(
    "/board",
    operation_id="read-board",
    summary="Show items by stage and place, with clocks and holds",
    response_model=BoardOut,
    responses=responses(*READING),
)
def board(request: Request, who: Annotated[Caller, Depends(needs("read-board"))], wanted: Filtered) -> dict[str, Any]:
    """One group for each stage and place, in the order of the trade; in each the shortest clock stands first."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        late = {row.due.subject for row in read.dues.coming(now.wall_us)}
        seen = (part_of(read, department.library, one) for one in items_found(read, who, wanted))
        parts = [part for part in seen if part is not None]
    lines = [line(part, now) for part in sorted(parts, key=lambda one: _urgency(one, now))]
    rows = [one | {"overdue": stream(StreamKind.ITEM, one["item"]) in late} for one in lines]
    return {
        "as_of": instant(now.wall_us),
        "site": wanted.site,
        "groups": _groups(rows),
        "counts": {stage: sum(1 for one in rows if one["stage"] == stage) for stage in (*SPINE, *ASIDE)},
        "held": sum(1 for one in rows if one["holds"]),
        "ready": _ready(rows),
    }


def _urgency(part: Part, now: Moment) -> tuple[int, int, str]:
    item = part.standing
    clock = clock_of(item.dwell, now) if item.dwell is not None else None
    if clock is None:
        return 1, item.since_us, item.item
    return 0, clock.rewet_s if clock.rewet_s is not None else clock.left_s, item.item


def _groups(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    kept: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for one in rows:
        kept.setdefault((one["stage"], one["place"] or ""), []).append(one)
    order = [str(stage) for stage in (*SPINE, *ASIDE)]
    keys = sorted(kept, key=lambda key: (order.index(key[0]), key[1]))
    return [
        {"stage": stage, "place": place or None, "count": len(kept[stage, place]), "items": kept[stage, place]}
        for stage, place in keys
    ]


def _ready(rows: list[dict[str, Any]]) -> dict[str, int]:
    """Returns how many usable ones lie at each place: neither out with somebody nor built into another one."""
    here = (one for one in rows if one["usable"] and one["custody"] is None and one["assembly"] is None)
    return dict(Counter(one["place"] or "" for one in here))
