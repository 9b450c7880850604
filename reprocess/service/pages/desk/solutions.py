"""Solutions at the desk: which may be used now and why not, and all of them on one time line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Final

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.pictures.baths import baths as plot
from reprocess.pictures.drawing import drawn
from reprocess.pictures.picture import frame_in
from reprocess.pictures.rows.baths import BathRow, baths
from reprocess.pictures.rows.spans import overlaps
from reprocess.record.solutions import Solution
from reprocess.service import who
from reprocess.service.api import solutions as api
from reprocess.service.pages import rendering
from reprocess.service.pages.desk.life import full_minute
from reprocess.service.pages.forms import PageRoute
from reprocess.service.paging import Cursor
from reprocess.service.seeing import department_of, each_seen, reading
from reprocess.service.who import Caller
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-solutions"))]
DAYS: Final = (1, 2, 7, 28)
"""Periods to choose from, in days (our choice)."""
USUAL: Final = 2
AHEAD: Final = 6
"""The picture goes on for one part in so many after now, so that an expiry that comes soon is seen."""
ROWS_MOST: Final = 40
"""Solutions in one picture, the latest ones; the others are counted (our choice)."""
LISTED_MOST: Final = 200


@router.get("/solutions")
def shown(request: Request, caller: Reader, days: int = USUAL) -> Response:
    """Show the solutions in use and a time line of the last days."""
    department = department_of(request)
    period = days if days in DAYS else USUAL
    span_us = period * DAY_S * SECOND_US
    now_us = full_minute(department.clock.now())
    from_us, until_us = now_us - span_us, now_us + span_us // AHEAD
    zone = department.zone_of_station(caller.station or "")
    listed = api.solutions(request, Response(), caller, Cursor(LISTED_MOST, None), in_use=True)
    with reading(request) as read:
        rows = _latest(_rows(read, caller, now_us, from_us, until_us))
    frame = frame_in(rendering.words_for(request).texts, zone, "solutions")
    told = {
        "listed": listed["solutions"],
        "following": listed["next"] is not None,
        "zone": zone,
        "days": DAYS,
        "period": period,
        "left_out": len(rows) - ROWS_MOST,
        "picture": drawn(plot(rows[-ROWS_MOST:], from_us, until_us, frame)),
        "may_look_back": who.may_of(caller, "read-lookback") is None,
    }
    return rendering.page(request, "desk/solutions.html", caller=caller, **told)


def _rows(read: Transaction, caller: Caller, now_us: int, from_us: int, until_us: int) -> Iterator[BathRow]:
    """Yields every making within a period of the solutions that the caller may see.

    What ended before the period is passed over without its entries being read.
    """
    for one in each_seen(read, caller, StreamKind.SOLUTION, Solution):
        if one.ended_us is None or one.ended_us > from_us:
            entries = read.entries_of(stream(StreamKind.SOLUTION, one.solution))
            yield from (row for row in baths(entries, now_us) if overlaps(row, from_us, until_us))


def _latest(rows: Iterator[BathRow]) -> Sequence[BathRow]:
    return sorted(rows, key=lambda one: (one.made_us, one.solution))
