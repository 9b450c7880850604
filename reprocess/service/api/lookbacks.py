"""Look-backs: who wore what, where and when, what touched what, now or as the record stood at a past instant.

What one wearer wore, and an exposure case, are shown only once it is on record who looked: these two are asked by
POST, with a key of their own; a repetition shows nothing, since nothing is recorded anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import anyio.to_thread
from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import ReadCase, TraceWearer
from reprocess.gathering.lookback import look
from reprocess.gathering.recalls import DIGEST_LEAST, RECALLED_BY, Asked
from reprocess.lookback.trace import Lookback, Touching, Wearing
from reprocess.record.touching import Touched
from reprocess.service import who
from reprocess.service.answers import AnswerOut, Instant, answered, as_us, instant, through_us
from reprocess.service.asking import ask, zone_of
from reprocess.service.problems import READING, WRITING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import NAME, in_sight, reading
from reprocess.service.served import served
from reprocess.service.shapes import WITHHELD, InstantOut
from reprocess.service.who import Caller
from reprocess.service.writing import Envelope, Key, Name, call_by_hand

router = APIRouter(route_class=StrictRoute, tags=["lookbacks"])
Reader = Annotated[Caller, Depends(who.needs("read-lookback"))]
LIMIT_MAX: Final = 1000
"""Intervals, and uses, of one page."""
OPEN: Final = tuple(sorted({"item", *RECALLED_BY} - {"items", str(Touched.WEARER)}))
"""What may be asked about without an entry: no pseudonym leads the question."""
Sort = Literal[OPEN]  # type: ignore[valid-type]


class IntervalOut(BaseModel):
    """Is one time that an item touched what is asked about, and where the item stands."""

    item: str
    cycle: int
    step: str | None
    since: InstantOut
    until: InstantOut | None = Field(description="Null while it goes on.")
    stage: str
    cycle_now: int
    holds: list[str]
    custody: str
    place: str


class CycleOut(BaseModel):
    """Is one cycle between two wearings."""

    cycle: int
    released: InstantOut
    valid: bool = Field(description="Whether nothing on record puts it in doubt.")


class UseOut(BaseModel):
    """Is one time that an item was with a wearer."""

    item: str
    whole: str = Field(description="What was issued: the assembly, or the item itself.")
    cycle: int
    wearer: str = Field(description=f"A pseudonym, or `{WITHHELD}` for whoever may not see it.")
    place: str | None
    since: InstantOut
    until: InstantOut | None = Field(description="Null while it is out.")
    between: list[CycleOut]
    first: bool = Field(description="Whether nobody wore it before, as far as the record goes.")


class LookbackOut(BaseModel):
    """Is the answer to one trace question: totals, every item and wearer, and one page of intervals and uses."""

    sort: str
    name: str
    as_of: InstantOut | None
    as_of_feed: int | None = Field(description="The last entry that counts; null for now.")
    items_total: int
    wearers_total: int
    intervals_total: int
    uses_total: int
    left_out: int = Field(description="Items of sites that this caller may not see.")
    items: list[str]
    wearers: list[str] = Field(description="Pseudonyms; empty for whoever may not see them.")
    intervals: list[IntervalOut]
    uses: list[UseOut]
    next: int | None = Field(default=None, description="`after` of the next page.")


class GuardedOut(BaseModel):
    """Is what a guarded look-back answers: what is on record of the asking, and what was found."""

    answer: AnswerOut
    lookback: LookbackOut | None = Field(description="Null for a repetition: ask again with a new key.")


@dataclass(frozen=True, slots=True)
class Span:
    """Is within which instants is looked, as of when, and which page is shown."""

    since: Instant | None = None
    until: Instant | None = None
    as_of: Instant | None = None
    limit: int = LIMIT_MAX
    after: int = 0


async def span(
    since: Annotated[Instant | None, Query(alias="from", description="From this instant on.")] = None,
    until: Annotated[Instant | None, Query(description="Until this instant.")] = None,
    as_of: Annotated[Instant | None, Query(description="As the record stood at this instant.")] = None,
    limit: Annotated[int, Query(ge=1, le=LIMIT_MAX, description="Intervals, and uses, at most.")] = LIMIT_MAX,
    after: Annotated[int, Query(ge=0, le=10**9, description="The `next` of the page before.")] = 0,
) -> Span:
    """Returns the span of a question; a dependency."""
    return Span(since, until, as_of, limit, after)


@router.get(
    "/lookbacks",
    operation_id="look-back",
    summary="What touched something, and who wore it",
    response_model=LookbackOut,
    responses=responses(*READING, "unknown-subject", "wrong-use"),
)
def lookback(
    request: Request,
    caller: Reader,
    sort: Annotated[Sort, Query(description="What about.", examples=["solution"])],
    name: Annotated[
        str,
        Query(
            min_length=1,
            max_length=64,
            pattern=NAME,
            description=f"Which one; a workflow's version by {DIGEST_LEAST} characters of its digest or more.",
            examples=["LMG-B2"],
        ),
    ],
    within: Annotated[Span, Depends(span)],
) -> LookbackOut:
    """Answers a trace question. An empty answer may mean a misread name: check the spelling before you believe it.

    Pages are made anew each time; add `as_of` where several must belong together.
    """
    return found_by(request, caller, sort, name, within)


class GuardedIn(Envelope):
    """Asks a trace question about a wearer or an exposure case."""

    sort: Literal["case", "wearer"]
    name: Name = Field(examples=["W-8F3A09C2B1D47E60"])


@router.post(
    "/lookbacks",
    operation_id="look-back-guarded",
    summary="What one wearer wore, or one exposure case; that it was looked at is on record",
    response_model=GuardedOut,
    responses=responses(*WRITING, "wrong-use"),
)
async def guarded(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("read-lookback"))],
    body: GuardedIn,
    within: Annotated[Span, Depends(span)],
) -> Response | GuardedOut:
    """Asks first whether the caller may see it, which is an entry, and then answers."""
    asked = ReadCase(body.name) if body.sort == "case" else TraceWearer(body.name)
    return await shown_after(
        request, caller, body, key, asked, lambda: found_by(request, caller, body.sort, body.name, within)
    )


async def shown_after(
    request: Request,
    caller: Caller,
    given: Envelope,
    key: str,
    asked: ReadCase | TraceWearer,
    find: Callable[[], LookbackOut],
) -> Response | GuardedOut:
    """Returns what is found once the asking is on record; a refusal where the caller may not see it."""
    call = await call_by_hand(request, caller, given, key, asked)
    answer = await ask(served(request), call)
    zone = await zone_of(served(request), call.station)
    response = answered(request, answer, zone)
    if not answer.accepted:
        return response
    found = None if answer.repeated else await anyio.to_thread.run_sync(find)
    return GuardedOut(answer=AnswerOut.model_validate_json(bytes(response.body)), lookback=found)


def found_by(request: Request, caller: Caller, sort: str, name: str, within: Span) -> LookbackOut:
    """Returns the answer to a trace question as this caller may see it.

    Raises:
        UnknownSubjectError: the item or case is not on record.
        WrongUseError: nothing can be looked back by that.
    """
    since_us = as_us(within.since) if within.since is not None else None
    until_us, as_of_us = (through_us(one) if one is not None else None for one in (within.until, within.as_of))
    with reading(request) as read:
        found = look(read, Asked(sort, name, since_us, until_us), as_of_us=as_of_us)
        hidden = {one for one in found.items if caller.sites and not in_sight(caller, read.item(one).site)}
    return _told(found, caller, hidden, within)


def _told(found: Lookback, caller: Caller, hidden: set[str], within: Span) -> LookbackOut:
    touched = [one for one in found.touched if one.item not in hidden]
    uses = [one for one in found.uses if one.item not in hidden]
    wearers = sorted({one.wearer for one in uses})
    named = caller.names_wearers or found.sort == Touched.WEARER
    upto = within.after + within.limit
    return LookbackOut(
        sort=found.sort,
        name=found.name,
        as_of=None if found.as_of_us is None else instant(found.as_of_us),
        as_of_feed=None if found.as_of_us is None else found.as_of_feed,
        items_total=len(found.items) - len(hidden),
        wearers_total=len(wearers),
        intervals_total=len(touched),
        uses_total=len(uses),
        left_out=len(hidden),
        items=[one for one in found.items if one not in hidden],
        wearers=wearers if named else [],
        intervals=[_interval(one) for one in touched[within.after : upto]],
        uses=[_use(one, named=named) for one in uses[within.after : upto]],
        next=upto if upto < max(len(touched), len(uses)) else None,
    )


def _at(at_us: int | None) -> str | None:
    return None if at_us is None else instant(at_us)


def _interval(one: Touching) -> IntervalOut:
    return IntervalOut(
        item=one.item,
        cycle=one.cycle,
        step=one.step,
        since=instant(one.from_us),
        until=_at(one.until_us),
        stage=one.stage,
        cycle_now=one.now_cycle,
        holds=list(one.holds),
        custody=one.custody,
        place=one.place,
    )


def _use(one: Wearing, *, named: bool) -> UseOut:
    between = [CycleOut(cycle=c.cycle, released=instant(c.released_us), valid=c.valid) for c in one.between]
    return UseOut(
        item=one.item,
        whole=one.whole,
        cycle=one.cycle,
        wearer=one.wearer if named else WITHHELD,
        place=one.place,
        since=instant(one.from_us),
        until=_at(one.until_us),
        between=between,
        first=one.first,
    )
