"""Custody over HTTP: what is out, where, since when, and what is overdue; who has it only for whoever may know."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.record.custody import Custody, Dedication
from reprocess.record.standing import Standing
from reprocess.rules.custody import GRACE_US
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, department_of, for_caller, in_sight, item_seen, reading
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["custody"])
Reader = Annotated[Caller, Depends(needs("read-items"))]

_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "item": (str, Field(description="What is out.", examples=["KIT-0007"])),
    "item_kind": (str, Field(description="What kind of thing it is.")),
    "site": (str, Field(description="The site that it belongs to.")),
    "overdue": (bool, Field(description="Whether it should be back by now, with four hours' grace.")),
}
CustodyOut = shapes.model_of(Custody, "CustodyOut", leave=("number",), more=_MORE)
DedicationOut = shapes.model_of(Dedication, "DedicationOut")


class WhereOut(BaseModel):
    """Is who has one item, if anybody."""

    item: str
    stage: str
    place: str | None = Field(description="Where it lies, while it is here.")
    custody: CustodyOut | None = Field(description="None while it is in the department.")  # type: ignore[valid-type]
    dedication: DedicationOut | None = Field(  # type: ignore[valid-type]
        description="The one place or wearer that it serves."
    )


class OutOut(BaseModel):
    """Is one page of what is out, by item."""

    custody: list[CustodyOut]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/custody",
    operation_id="read-custody",
    summary="List what is out, where and since when",
    response_model=OutOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def out(
    request: Request,
    response: Response,
    who: Reader,
    asked: Paged,
    site: Asked = None,
    place: Asked = None,
    wearer: Annotated[str | None, Query(max_length=64, description="A pseudonym; needs `wearers:read`.")] = None,
    sort: Annotated[Literal["issued", "lent", "moving", "missing", "swapped"] | None, Query()] = None,
    overdue: Annotated[bool | None, Query(description="Only what is, or is not, overdue.")] = None,
) -> dict[str, Any]:
    """Every item that somebody has, that is lent, on its way or missing; `withheld` stands for a wearer."""
    if wearer is not None and not who.names_wearers:
        message = "To ask by wearer needs `wearers:read`."
        raise ProblemError("not-allowed", message)
    now_us = department_of(request).clock.now().wall_us
    with reading(request) as read:
        found = (
            (item, custody)
            for item, custody in _out(read, who)
            if site in (None, item.site)
            and place in (None, custody.place)
            and wearer in (None, custody.wearer)
            and sort in (None, custody.sort)
            and overdue in (None, _overdue(custody, now_us))
        )
        rows, following = page(request, response, found, lambda one: one[0].item, asked)
    return {"custody": [_fields(item, custody, now_us) for item, custody in rows], "next": following}


def _out(read: Transaction, who: Caller) -> Iterator[tuple[Standing, Custody]]:
    for _, _, item in read.each_of(StreamKind.ITEM):
        if isinstance(item, Standing) and item.custody is not None and in_sight(who, item.site):
            shown = for_caller(item, who)
            if shown.custody is not None:
                yield shown, shown.custody


@router.get(
    "/custody/{item}",
    operation_id="read-item-custody",
    summary="Tell who has one item",
    response_model=WhereOut,
    responses=responses(*READING, "unknown-subject"),
)
def where(request: Request, who: Reader, item: Named) -> dict[str, Any]:
    """Where it is, since when, until when it is expected; the wearer's pseudonym only with `wearers:read`."""
    now_us = department_of(request).clock.now().wall_us
    with reading(request) as read:
        found = for_caller(item_seen(read, who, item), who)
    return {
        "item": found.item,
        "stage": str(found.stage),
        "place": found.place,
        "custody": _fields(found, found.custody, now_us) if found.custody is not None else None,
        "dedication": shapes.values_of(found.dedication) if found.dedication is not None else None,
    }


def _overdue(custody: Custody, now_us: int) -> bool:
    return custody.expected_us is not None and custody.expected_us + GRACE_US <= now_us


def _fields(item: Standing, custody: Custody, now_us: int) -> dict[str, Any]:
    return shapes.values_of(custody, ("number",)) | {
        "item": item.item,
        "item_kind": item.item_kind,
        "site": item.site,
        "overdue": _overdue(custody, now_us),
    }
