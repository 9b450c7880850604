"""What may be done with an item next, and why not for the rest: each request decided, and none written."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request

from reprocess.gathering import part_of
from reprocess.record.places import Station
from reprocess.rules.permissions import PERMISSIONS
from reprocess.service import rehearsing
from reprocess.service.answers import ReasonOut, instant
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.rehearsing import Given, Rehearsed
from reprocess.service.seeing import Asked, Named, department_of, item_seen, may_not, place_of, reading, zone_of
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import reason_fields
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["items"])


class AsksOut(BaseModel):
    """Is what a request must bring, as the step's file says."""

    checks: dict[str, str] = Field(description="Each line of the checklist with its text.")
    readings: dict[str, str] = Field(description="Each reading with its unit.")
    counts: list[str]
    instrument: str | None = Field(description="The sort of instrument that must be named.")
    second_person: bool
    pin: bool = Field(description="Whether the PIN is given again with this request.")


class ActionOut(BaseModel):
    """Is one thing that might be done, and what it would be answered now."""

    asked: str = Field(examples=["do-step"])
    step: str | None
    title: str
    state: Literal["allowed", "asks", "refused", "held"] = Field(
        description="`asks`: nothing but what the request does not bring yet. `held`: it is on hold, or would be."
    )
    reasons: list[ReasonOut] = Field(description="Every reason why not; none where it is allowed.")
    warnings: list[ReasonOut]
    fault: str | None = Field(description="Why the request means nothing as it is.")
    wait_s: int | None = Field(description="Seconds after which no clock stands against it.")
    path: str = Field(description="Where it is asked, with POST.")
    body: dict[str, Any] = Field(description="What of its body is known already.")
    assumed: dict[str, bool] = Field(description="`checks` that were assumed; say them only as they were seen.")
    asks: AsksOut


class NextOut(BaseModel):
    """Is everything that might be done with an item, decided but not written."""

    item: str
    stage: str
    station: str
    as_of: InstantOut
    actions: list[ActionOut]


def given(
    solution: Asked = None,
    instrument: Asked = None,
    configuration: Asked = None,
    member: Annotated[list[Annotated[str, Query(max_length=64)]], Query(max_length=40)] = [],  # noqa: B006
    wearer: Asked = None,
    place: Asked = None,
    second_badge: Asked = None,
) -> Given:
    """Returns what the caller already knows that a request would bring; a dependency."""
    return Given(solution, instrument, configuration, tuple(member), wearer, place, second_badge)


@router.get(
    "/items/{item}/next",
    operation_id="read-item-next",
    summary="Tell what may be done next, and why not for the rest",
    response_model=NextOut,
    responses=responses(*READING, "unknown-subject"),
)
def following(
    request: Request,
    who: Annotated[Caller, Depends(needs("read-items"))],
    item: Named,
    brought: Annotated[Given, Depends(given)],
    station: Asked = None,
    badge: Asked = None,
) -> dict[str, Any]:
    """Each request about the item, decided as if it were asked now at this station; nothing is written.

    A rehearsal promises nothing: the request itself is decided anew, on what stands on record then.
    """
    own, shown = place_of(who, station, badge)
    department = department_of(request)
    with reading(request) as read:
        found = item_seen(read, who, item)
        part = part_of(read, department.library, found)
        at = read.state(stream(StreamKind.STATION, own))
        site = at.site if isinstance(at, Station) else ""
        zone = zone_of(read, site)
        store = rehearsing.store_for(read, site, brought.place)
    assert part is not None  # what is on record has a workflow  # noqa: S101
    told = rehearsing.rehearse(department, rehearsing.actions(part, brought, store), own, shown, brought.second)
    return {
        "item": found.item,
        "stage": str(found.stage),
        "station": own,
        "as_of": instant(department.clock.now().wall_us),
        "actions": [_action(one, who, (shown, site), zone) for one in told],
    }


def _action(one: Rehearsed, who: Caller, acting: tuple[str | None, str], zone: str) -> dict[str, Any]:
    action = one.action
    barred = may_not(who, action.operation.asked, *acting)
    reasons = [*([barred] if barred is not None else []), *one.reasons]
    warnings = one.answer.warnings if one.answer is not None else ()
    waits = [reason.wait_s for reason in reasons if reason.wait_s is not None]
    return {
        "asked": action.operation.asked,
        "step": action.step.step if action.step is not None else None,
        "title": action.title,
        "state": "refused" if barred is not None else one.state,
        "reasons": [reason_fields(reason, zone) for reason in reasons],
        "warnings": [reason_fields(reason, zone) for reason in warnings],
        "fault": one.fault,
        "wait_s": max(waits, default=None),
        "path": action.path,
        "body": action.body,
        "assumed": action.assumed,
        "asks": _asks(action),
    }


def _asks(action: rehearsing.Action) -> dict[str, Any]:
    step, row = action.step, PERMISSIONS.get(action.operation.asked)
    starts = action.operation.asked == "start-dwell"  # the checklist of a clock is answered at its end
    lines = step if step is not None and not starts else None
    return {
        "checks": {one.check: one.text for one in lines.checks} if lines is not None else {},
        "readings": {one.reading: one.unit for one in lines.readings} if lines is not None else {},
        "counts": [one.count for one in lines.counts] if lines is not None else [],
        "instrument": step.instrument if step is not None else None,
        "second_person": bool(getattr(step, "two_people", False)) or (row is not None and row.second),
        "pin": row is not None and row.signed,
    }
