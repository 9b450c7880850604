"""Open holds: which items must not be released or issued, why, and who settles it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.record.standing import Hold, Standing
from reprocess.service import who
from reprocess.service.answers import instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, in_sight, reading
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller

router = APIRouter(route_class=StrictRoute, tags=["holds"])
Reader = Annotated[Caller, Depends(who.needs("read-items"))]


class HoldOut(BaseModel):
    """Is one open hold of one item."""

    item: str
    site: str
    item_kind: str
    stage: str
    hold: str = Field(description="Its id within the item, by which it is lifted.")
    sort: str
    rule: str
    cause: str
    owner: str
    placed_by: str | None
    placed: InstantOut
    lift_roles: list[str]
    lift_two_people: bool
    lift_requires: str
    recall: str | None
    evidence: str | None
    notice: str | None
    located: InstantOut | None = Field(description="When the item was first scanned under it; null where never.")
    place: str | None = Field(description="The quarantine place that the item lies in.")


class HoldsOut(BaseModel):
    """Is one page of open holds, by item."""

    holds: list[HoldOut]
    next: str | None = None


@router.get(
    "/holds",
    operation_id="list-holds",
    summary="Every open hold, by item",
    response_model=HoldsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def holds(
    request: Request,
    response: Response,
    caller: Reader,
    asked: Paged,
    site: Asked = None,
    sort: Asked = None,
    owner: Asked = None,
    recall: Asked = None,
) -> dict[str, Any]:
    """Lists the open holds of all items, of one site, sort, owner or recall only where asked; a page counts items."""
    wanted = {"sort": sort, "owner": owner, "recall": recall}

    def open_holds() -> Iterator[tuple[Standing, list[Hold]]]:
        for item in read.items(site=site):
            if item.holds and in_sight(caller, item.site):
                found = [one for one in item.holds.values() if _fits(one, wanted)]
                if found:
                    yield item, found

    with reading(request) as read:
        rows, following = page(request, response, open_holds(), lambda one: one[0].item, asked)
    return {"holds": [_told(item, hold) for item, found in rows for hold in found], "next": following}


def _fits(hold: Hold, wanted: dict[str, str | None]) -> bool:
    return all(value is None or getattr(hold, name) == value for name, value in wanted.items())


def _told(item: Standing, hold: Hold) -> HoldOut:
    return HoldOut(
        item=item.item,
        site=item.site,
        item_kind=item.item_kind,
        stage=str(item.stage),
        hold=hold.hold,
        sort=hold.sort,
        rule=hold.rule,
        cause=hold.cause,
        owner=hold.owner,
        placed_by=hold.placed_by,
        placed=instant(hold.placed_us),
        lift_roles=list(hold.lift_roles),
        lift_two_people=hold.lift_two_people,
        lift_requires=hold.lift_requires,
        recall=hold.recall,
        evidence=hold.evidence,
        notice=hold.notice,
        located=None if hold.sighted_us is None else instant(hold.sighted_us),
        place=hold.place,
    )
