"""One item at the desk: where it stands, and its life as a picture and a table."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import part_of
from reprocess.pictures.drawing import drawn
from reprocess.pictures.life import life as plot
from reprocess.pictures.picture import frame_in
from reprocess.pictures.rows.life import life
from reprocess.record.moment import Moment
from reprocess.service import who
from reprocess.service.api.items import item_fields
from reprocess.service.pages import rendering
from reprocess.service.pages.forms import PageRoute
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import Named, department_of, item_seen, reading, zone_of
from reprocess.service.who import Caller
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-history"))]
CYCLES_SHOWN: Final = 12
"""Cycles that are offered to choose from, the latest ones (our choice)."""
ALL: Final = "all"
MINUTE_US: Final = 60 * SECOND_US


@router.get("/items/{item}")
def shown(request: Request, caller: Reader, item: Named, cycle: str = "") -> Response:
    """Show one item with the life of its latest cycle, of another one, or of all."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        found = item_seen(read, caller, item)
        part = part_of(read, department.library, found)
        zone = zone_of(read, found.site)
        entries = read.entries_of(stream(StreamKind.ITEM, found.item))
    assert part is not None  # what is on record has a workflow  # noqa: S101
    words = rendering.words_for(request)
    rows = life(found.item, entries, full_minute(now), _cycle(cycle, found.cycle))
    latest = range(found.cycle, max(0, found.cycle - CYCLES_SHOWN), -1)
    fields = item_fields(part, now, zone, caller)
    told: dict[str, Any] = {
        "item": fields,
        "zone": zone,
        "picture": drawn(plot(rows, frame_in(words.texts, zone, "life"))),
        "may_look_back": who.may_of(caller, "read-lookback") is None,
        "cycle": rows.cycle,
        "cycles": list(latest),
        "limits": [_limit(one) for one in fields["life"]],
    }
    return rendering.page(request, "desk/life.html", caller=caller, **told)


COUNTED: Final = ("cycles", "charge-cycles")
"""What is counted one by one; all else is seconds (`rules.life`), shown as full hours or days."""


def _limit(one: dict[str, Any]) -> dict[str, Any]:
    """Returns how far a limit is used up, in the unit in which people think of it."""
    unit = "times" if one["by"] in COUNTED else "hours" if one["by"] == "hours" else "days"
    each = {"times": 1, "hours": 3600, "days": DAY_S}[unit]
    return one | {"unit": unit, "seen": one["seen"] // each, "most": one["most"] // each}


def full_minute(now: Moment) -> int:
    """Returns the last full minute: whoever looks within the same one is shown the same drawing, made once."""
    return now.wall_us // MINUTE_US * MINUTE_US


def _cycle(asked: str, latest: int) -> int | None:
    """Returns the cycle that is asked for; None for all of them, the latest one where nothing is asked.

    Raises:
        ProblemError: the item had no such cycle.
    """
    if asked == ALL:
        return None
    if not asked:
        return latest
    if not (asked.isascii() and asked.isdigit() and len(asked) < 10 and 1 <= int(asked) <= latest):  # noqa: PLR2004
        message = f"It had no cycle {asked[:12]}; choose one of 1 to {latest}."
        raise ProblemError("not-found", message)
    return int(asked)
