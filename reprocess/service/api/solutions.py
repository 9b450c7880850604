"""Baths and opened containers over HTTP: how long they may be used, what their tests showed, why not now."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import Library, local_day, state_as
from reprocess.gathering.solution_scenes import with_solution
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.record.places import Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.words import SolutionTested
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench, Scene
from reprocess.rules.solution import usable
from reprocess.service import shapes
from reprocess.service.answers import ReasonOut, instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, Named, department_of, each_seen, reading, seen
from reprocess.service.shapes import InstantOut
from reprocess.service.showing import reason_fields
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["solutions"])
Reader = Annotated[Caller, Depends(needs("read-solutions"))]


class TestOut(BaseModel):
    """Is one strip test of a solution."""

    __test__ = False

    at: InstantOut
    by: str | None
    valid: bool = Field(description="Whether it counts; one that does not neither passes nor fails the bath.")
    passed: bool
    void_because: str | None
    reading: str | None
    limit: str | None
    unit: str | None
    strip_lot: str
    control_run: bool


_HIDDEN: Final = ("made_feed", "doubt_feed")
_MORE: Final[dict[str, tuple[Any, Any]]] = {
    "usable": (bool, Field(description="Whether it may be used now.")),
    "not_usable": (list[ReasonOut], Field(description="Why it may not be used now; none where it may.")),
    "left_s": (int, Field(description="Seconds until it may not be used any more; 0 once it is over.")),
    "as_of": (InstantOut, Field(description="The instant for which all of this was true.")),
}
_TESTS: Final[tuple[Any, Any]] = (list[TestOut], Field(description="Its tests, the latest first."))
SolutionLine = shapes.model_of(Solution, "SolutionLine", leave=_HIDDEN, more=_MORE)
SolutionOut = shapes.model_of(Solution, "SolutionOut", leave=_HIDDEN, more={**_MORE, "tests": _TESTS})


class SolutionsOut(BaseModel):
    """Is one page of solutions, by id."""

    solutions: list[SolutionLine]  # type: ignore[valid-type]
    next: str | None = Field(description="The `after` of the next page; none at the end.")


@router.get(
    "/solutions",
    operation_id="read-solutions",
    summary="List baths and opened containers",
    response_model=SolutionsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def solutions(
    request: Request,
    response: Response,
    who: Reader,
    asked: Paged,
    site: Asked = None,
    agent: Asked = None,
    in_use: Annotated[bool | None, Query(description="Only what has, or has not, ended or failed.")] = None,
) -> dict[str, Any]:
    """Every solution that the caller may see; the filters all hold together."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        found = (
            one
            for one in each_seen(read, who, StreamKind.SOLUTION, Solution)
            if site in (None, one.site)
            and agent in (None, one.agent)
            and in_use in (None, one.ended is None and one.failed_us is None)
        )
        rows, following = page(request, response, found, lambda one: one.solution, asked)
        return {"solutions": [_fields(read, department.library, one, now) for one in rows], "next": following}


@router.get(
    "/solutions/{solution}",
    operation_id="read-solution",
    summary="Tell where one solution stands, with its tests",
    response_model=SolutionOut,
    responses=responses(*READING, "unknown-subject"),
)
def solution(request: Request, who: Reader, solution: Named) -> dict[str, Any]:
    """Its life, its contacts since the last passing test, its tests, and why it may not be used now."""
    department = department_of(request)
    now = department.clock.now()
    with reading(request) as read:
        found = seen(read, who, StreamKind.SOLUTION, solution, Solution)
        entries = read.entries_of(stream(StreamKind.SOLUTION, solution))
        told = _fields(read, department.library, found, now)
    return told | {"tests": [_test(one, one.body) for one in reversed(entries) if isinstance(one.body, SolutionTested)]}


def _test(entry: Entry, body: SolutionTested) -> dict[str, Any]:
    told = body.model_dump(include={name for name in TestOut.model_fields if name not in ("at", "by")})
    return told | {"at": instant(entry.at_us), "by": entry.envelope.actor}


def _fields(read: Transaction, library: Library, solution: Solution, now: Moment) -> dict[str, Any]:
    site = state_as(read, stream(StreamKind.SITE, solution.site), Site)
    barred = _barred(read, library, solution, now, site)
    left_us = min(solution.expires_us, solution.lot_expiry_us) - now.wall_us
    over = solution.ended is not None or solution.failed_us is not None
    return shapes.values_of(solution, _HIDDEN) | {
        "usable": not barred,
        "not_usable": [reason_fields(one, site.zone) for one in barred],
        "left_s": 0 if over else max(0, left_us // 1_000_000),
        "as_of": instant(now.wall_us),
    }


def _barred(read: Transaction, library: Library, solution: Solution, now: Moment, site: Site) -> list[Reason]:
    """Returns why a solution may not be used now at its site, as a contact in it would be told."""
    day = local_day(site.zone, now.wall_us)
    at = Bench(moment=now, site=site, station=Station("", site=site.site), actor=None, badge=None, local_day=day)
    scene = with_solution(read, library, Scene(bench=at, item=Standing(item="")), solution.solution)
    return usable(solution, scene.agent, scene) if scene.agent is not None else []
