"""The record as others follow it: pages, a wait for what comes next, a stream, and the catalogue of its kinds."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, Final
from urllib.parse import urlencode

import anyio.to_thread
import orjson
from fastapi import APIRouter, Depends, Header, Path, Query
from pydantic import BaseModel, Field
from pydantic.json_schema import SkipJsonSchema
from starlette.requests import Request
from starlette.responses import Response

from reprocess.errors import NotSignedInError, UnknownSubjectError
from reprocess.exchange.events import Sight, told
from reprocess.ledger.append import looking
from reprocess.record.catalogue import ALL, KINDS, SCOPES, Kind
from reprocess.rules.permissions import may_person
from reprocess.service import who
from reprocess.service.paging import PAGE_HEADERS
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.served import Served, served
from reprocess.service.streaming import HEARTBEAT, EventStream, Streams, event, passed
from reprocess.service.watching import Watcher
from reprocess.service.who import Caller
from reprocess.service.writing import Name

WAIT_S_MAX: Final = 25
"""How long one request waits at most; proxies commonly close what is quiet for 30 s or 60 s (common practice)."""
PAGE: Final = 100
PAGE_MAX: Final = 1_000
HEARTBEAT_S: Final = 15.0
"""How long a stream is quiet at most: the standard advises a comment "every 15 seconds or so" (section 9.2.7)."""
STREAM_S_MAX: Final = 900
"""How long a stream stays open; whoever comes back is asked again who they are (our choice)."""
FEED_MAX: Final = 2**53 - 1

router = APIRouter(route_class=StrictRoute, tags=["feed"])

Reader = Annotated[Caller, Depends(who.needs("read-feed"))]
After = Annotated[int, Query(ge=0, le=FEED_MAX, description="The number of the last entry already seen.")]
Begin = Annotated[
    int | SkipJsonSchema[None], Query(ge=0, le=FEED_MAX, description="Begins after this entry; else at the end.")
]
Kinds = Annotated[
    list[Name] | SkipJsonSchema[None],
    Query(max_length=200, description="Only these kinds of entry; may stand there often."),
]
Sites = Annotated[
    list[Name] | SkipJsonSchema[None], Query(max_length=200, description="Only these sites; may stand there often.")
]


class FeedEntryOut(BaseModel):
    """Is one entry as this reader may see it; of one that it may not see, only number, `withheld` and family."""

    feed: int = Field(description="Its number in the one gap-free order of the whole record.")
    id: str | None = None
    type: str | None = Field(default=None, examples=["item.released"])
    kind: str | None = None
    version: int | None = None
    family: str
    stream: str | None = Field(default=None, examples=["item:BLW-0041"])
    number: int | None = Field(default=None, description="Its number in its stream.")
    occurred_at: str | None = None
    recorded_at: str | None = None
    local_at: str | None = Field(default=None, description="`occurred_at` in the local time of the site then.")
    site: str | None = None
    station: str | None = None
    actor: str | None = None
    second: str | None = None
    identity: str | None = None
    workflow: str | None = Field(default=None, description="The digest of the workflow that it names.")
    evidence: str | None = Field(default=None, description="measured, attested or imported.")
    body: dict[str, Any] | None = Field(default=None, description="As `/v1/catalogue/{kind}` describes it.")
    without: list[str] = Field(default_factory=list, description="What is left out for this reader.")
    digest: str | None = None
    prev: str | None = None
    withheld: bool = False


class PageOut(BaseModel):
    """Is a page of the record."""

    entries: list[FeedEntryOut]
    next_after: int = Field(description="What to send as `after` next: the last entry that was looked at.")
    last: int = Field(description="The number of the latest entry on record.")


class KindOut(BaseModel):
    """Is one kind and version of entry."""

    kind: str
    version: int
    type: str
    family: str
    topic: str = Field(description="`open`, or who else must be allowed to see it: wearers, cases, security.")
    says: str


class KindSchemaOut(KindOut):
    """Is one kind and version of entry with the JSON Schema (draft 2020-12) of its body."""

    body_schema: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Page:
    """Is what was read at once: what the reader is given, the last entry that was looked at, the latest on record."""

    entries: list[dict[str, Any]]
    next_after: int
    last: int


@router.get(
    "/entries",
    operation_id="read-entries",
    response_model=PageOut,
    summary="Read the record in its order",
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
async def entries(
    request: Request,
    caller: Reader,
    after: After = 0,
    limit: Annotated[int, Query(ge=1, le=PAGE_MAX, description="Entries that are looked at.")] = PAGE,
    wait: Annotated[int, Query(ge=0, le=WAIT_S_MAX, description="Seconds to wait where nothing is new.")] = 0,
    kind: Kinds = None,
    site: Sites = None,
) -> Response:
    """Read the entries that follow `after`, oldest first.

    Numbers have no gap. An entry that this reader may not see keeps its place, withheld; one that `kind` or `site`
    leaves out does not appear, and `next_after` moves past it. The `Link` of relation `next` is the next page.
    """
    parts, sight = served(request), sight_of(caller, kind or (), site or ())
    page = await anyio.to_thread.run_sync(read_page, parts, after, limit, sight)
    if not page.entries and page.last <= after and wait and await watcher_of(parts).wait(after, wait):
        still = await anyio.to_thread.run_sync(partial(_sight_now, request, kind or (), site or ()))
        if still is None:
            message = "What you asked with counts no more. Sign in again, or send another token."
            raise NotSignedInError(message)
        page = await anyio.to_thread.run_sync(read_page, parts, after, limit, still)
    asked: list[tuple[str, str | int]] = [("after", page.next_after), ("limit", limit)]
    asked += [("wait", wait)] if wait else []
    asked += [("kind", one) for one in kind or ()] + [("site", one) for one in site or ()]
    headers = {"Link": f'</v1/entries?{urlencode(asked)}>; rel="next"', "Cache-Control": "no-store"}
    body = {"entries": page.entries, "next_after": page.next_after, "last": page.last}
    return Response(orjson.dumps(body), media_type="application/json", headers=headers)


@router.get(
    "/entries/stream",
    operation_id="follow-entries",
    summary="Follow the record as it grows",
    response_class=Response,
    responses={
        200: {"description": "Events.", "content": {"text/event-stream": {"schema": {"type": "string"}}}},
        **responses(*READING),
    },
)
async def stream(
    request: Request,
    caller: Reader,
    after: Begin = None,
    kind: Kinds = None,
    site: Sites = None,
    last_event_id: Annotated[
        str | SkipJsonSchema[None], Header(pattern=r"^[0-9]{1,15}$", description="Goes on after this entry.")
    ] = None,
) -> Response:
    """Follow the record as server-sent events: `id` is the entry's number, `event` its type, `data` the entry.

    Whoever comes back with `Last-Event-ID`, to whichever node, goes on where they were; without it and without
    `after`, at the end of the record. The stream ends when the node stops, and now and then by itself.
    """
    parts = served(request)
    streams: Streams = parts.parts.setdefault("streams", Streams())
    reader = f"token:{caller.token}" if caller.kind == "token" else f"person:{caller.person}"
    if streams.full(reader):
        message = "Too many streams are open here; read pages instead, or come again."
        raise ProblemError("too-many-tries", message)
    begun = int(last_event_id) if last_event_id is not None else after
    if begun is None:
        begun = await anyio.to_thread.run_sync(parts.department.last_feed)
    sight_of(caller, kind or (), site or ())  # what cannot be asked is told before the stream begins
    return EventStream(follow(parts, begun, partial(_sight_now, request, kind or (), site or ())), streams, reader)


@router.get(
    "/entries/{feed}",
    operation_id="read-entry",
    response_model=FeedEntryOut,
    summary="Read one entry",
    responses=responses(*READING, "unknown-subject"),
)
async def entry(request: Request, caller: Reader, feed: Annotated[int, Path(ge=1, le=FEED_MAX)]) -> Response:
    """Read one entry by its number in the record."""
    page = await anyio.to_thread.run_sync(read_page, served(request), feed - 1, 1, sight_of(caller, (), ()))
    if not page.entries or page.entries[0]["feed"] != feed:
        message = f"There is no entry {feed}."
        raise UnknownSubjectError(message, feed=feed)
    return Response(orjson.dumps(page.entries[0]), media_type="application/json")


@router.get(
    "/catalogue",
    operation_id="read-catalogue",
    response_model=list[KindOut],
    summary="List every kind of entry",
    responses=responses("not-signed-in"),
)
async def catalogue(_: Annotated[Caller, Depends(who.caller)]) -> Response:
    """List every kind and version of entry, with the event type under which it is handed over."""
    return Response(orjson.dumps([_kind(one) for one in ALL.values()]), media_type="application/json")


@router.get(
    "/catalogue/{kind}",
    operation_id="read-kind",
    response_model=list[KindSchemaOut],
    summary="Describe one kind of entry",
    responses=responses("not-signed-in", "invalid", "unknown-subject"),
)
async def kind_schema(_: Annotated[Caller, Depends(who.caller)], kind: Annotated[Name, Path()]) -> Response:
    """Describe every version of one kind of entry, with the JSON Schema of its body."""
    found = [one for one in ALL.values() if one.kind == kind]
    if not found:
        message = "There is no such kind of entry; see /v1/catalogue."
        raise UnknownSubjectError(message, kind=kind)
    body = [_kind(one) | {"body_schema": one.schema} for one in found]
    return Response(orjson.dumps(body), media_type="application/json")


def _kind(one: Kind) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "version": one.version,
        "type": one.type,
        "family": one.family,
        "topic": one.topic,
        "says": one.says,
    }


def sight_of(caller: Caller, kinds: Sequence[str], sites: Sequence[str]) -> Sight:
    """Returns what a caller may see, and what of it they ask for.

    Raises:
        ProblemError: a kind is none.
    """
    strange = sorted(set(kinds) - KINDS)
    if strange:
        errors = [{"pointer": "/query/kind", "detail": "no such kind"}]
        raise ProblemError("invalid", "There is no such kind of entry; see /v1/catalogue.", errors=errors)
    scopes = set(caller.scopes) & set(SCOPES)
    person = caller.kind == "person"
    if person:
        scopes |= {scope for scope in SCOPES if may_person(caller.roles, _READS[scope]) is None}
    return Sight(
        scopes=frozenset(scopes),
        cases=person and may_person(caller.roles, "read-cases") is None,
        limits=frozenset(caller.sites),
        kinds=frozenset(kinds),
        sites=frozenset(sites),
    )


def _sight_now(request: Request, kinds: Sequence[str], sites: Sequence[str]) -> Sight | None:
    """Returns what whoever asks may see as it stands now; None where they may see nothing any more (I17)."""
    caller = who.again(request)
    if caller is None or who.may_of(caller, "read-feed") is not None:
        return None
    return sight_of(caller, kinds, sites)


_READS: Final = {"wearers:read": "read-wearers", "people:read": "read-people"}


def read_page(parts: Served, after: int, most: int, sight: Sight) -> Page:
    """Returns what follows an entry: at most that many are looked at, however few of them are given."""
    with looking(parts.department.ledger) as read:
        rows = read.feed.after(after, most)
        given = [one for row in rows if (one := told(read, row, sight)) is not None]
        return Page(given, rows[-1].feed if rows else after, read.feed.last())


def watcher_of(parts: Served) -> Watcher:
    """Returns the node's watcher of the record."""
    watcher: Watcher | None = parts.parts.get("watcher")
    if watcher is None:
        watcher = parts.parts["watcher"] = Watcher(parts.department.last_feed, parts.stopping)
    return watcher


async def follow(
    parts: Served,
    after: int,
    sees: Callable[[], Sight | None],
    heartbeat_s: float = HEARTBEAT_S,
    pages: int | None = None,
) -> AsyncIterator[bytes]:
    """Yields the record from an entry on as events, until the node stops or the stream has been open for long.

    `sees` tells before each page what the reader may see by then; with None the stream ends.
    """
    quiet = 0
    while not parts.stopping.is_set() and quiet * heartbeat_s < STREAM_S_MAX and pages != 0:
        sight = await anyio.to_thread.run_sync(sees)
        if sight is None:
            return
        page = await anyio.to_thread.run_sync(read_page, parts, after, PAGE, sight)
        for one in page.entries:
            yield event(orjson.dumps(one), number=one["feed"], name=one.get("type", "withheld"))
        if page.next_after > after and (not page.entries or page.entries[-1]["feed"] < page.next_after):
            yield passed(page.next_after)
        after, pages = page.next_after, pages if pages is None else pages - 1
        if after >= page.last and not await watcher_of(parts).wait(after, heartbeat_s):
            quiet += 1
            yield HEARTBEAT
