"""The board over HTTP: every item by stage and place, with its clock, its holds and what is overdue."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request

from reprocess.service import overview
from reprocess.service.answers import instant
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import department_of, reading
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import Filtered, ItemLine, line
from reprocess.service.who import Caller, needs

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
        late = overview.late_items(read, now)
        parts = overview.parts_found(read, department.library, who, wanted, now)
        ready = overview.ready_here(read, department.library, parts, now)
    rows = [line(part, now) | {"overdue": part.standing.item in late} for part in parts]
    groups = overview.by_stage_and_place(rows, lambda one: (one["stage"], one["place"]))
    return {
        "as_of": instant(now.wall_us),
        "site": wanted.site,
        "groups": [
            {"stage": stage, "place": place, "count": len(items), "items": items} for stage, place, items in groups
        ],
        "counts": {stage: sum(1 for one in rows if one["stage"] == stage) for stage in overview.ORDER},
        "held": sum(1 for one in rows if one["holds"]),
        "ready": ready,
    }
