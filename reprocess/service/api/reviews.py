"""The supervisor's queue: what is unusual and waits for somebody to look at it (D14)."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Path
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.ledger.reviews import Waiting
from reprocess.record.entry import Entry
from reprocess.record.places import Station
from reprocess.rules import signing
from reprocess.rules.catalogue import FAMILIES
from reprocess.service import who
from reprocess.service.answers import instant
from reprocess.service.paging import PAGE_HEADERS, Numbered, page_of_numbers
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import WEARING, Asked, in_sight, reading, unknown
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.terms import StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["reviews"])
Reader = Annotated[Caller, Depends(who.needs("read-reviews"))]
SAYS: Final = {rule.id: rule.says for rules in FAMILIES.values() for rule in rules}


class WaitingOut(BaseModel):
    """Is one entry that waits."""

    feed: int = Field(description="Its number in the whole record, by which it is reviewed.")
    subject: str
    kind: str
    sort: str = Field(description="Why it waits: override, correction, attested, competency, conflict, ...")
    rules: list[str]
    at: InstantOut
    actor: str | None
    station: str | None


class RefusalsOut(BaseModel):
    """Is how often one station refused under the same rules since somebody last looked."""

    rules: list[str]
    says: list[str] = Field(description="What these rules ask.")
    station: str | None
    times: int


class ReviewsOut(BaseModel):
    """Is one page of what waits, oldest first, and the refusals counted."""

    waiting: list[WaitingOut]
    refusals: list[RefusalsOut]
    refusals_until: int | None = Field(description="`until_feed` of a review of these refusals.")
    next: str | None = None


class ReviewOut(WaitingOut):
    """Is one entry of the queue as it is shown to whoever signs its review."""

    reviewed_by_feed: int | None = Field(description="The entry with which it was reviewed.")
    text: str | None = Field(description="Null where it names a wearer and the caller may not see who.")
    shown: str | None = Field(description="SHA-256 of the text, for the review's `shown`.")


@router.get(
    "/reviews",
    operation_id="list-reviews",
    summary="What waits for review",
    response_model=ReviewsOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def reviews(
    request: Request, response: Response, caller: Reader, asked: Numbered, station: Asked = None
) -> dict[str, Any]:
    """Lists what is unusual, from one station only where asked."""
    with reading(request) as read:
        sites = {one.station: one.site for one in read.states_of(StreamKind.STATION) if isinstance(one, Station)}

        def mine(place: str | None) -> bool:
            return station in (None, place) and in_sight(caller, sites.get(place or "", ""))

        waiting = [one for one in read.reviews.waiting() if mine(one.station)]
        refusals = [one for one in read.reviews.refusals() if mine(one.station)]
    rows, following = page_of_numbers(request, response, waiting, lambda one: one.feed, asked)
    return {
        "waiting": [_told(one) for one in rows],
        "refusals": [
            {
                "rules": list(one.rules),
                "says": [SAYS[rule] for rule in one.rules if rule in SAYS],
                "station": one.station,
                "times": one.times,
            }
            for one in refusals
        ],
        "refusals_until": max((one.last_feed for one in refusals), default=None),
        "next": following,
    }


@router.get(
    "/reviews/{feed}",
    operation_id="read-review",
    summary="One entry of the queue, as it is shown to whoever signs",
    response_model=ReviewOut,
    responses=responses(*READING, "unknown-subject"),
)
def review(request: Request, caller: Reader, feed: Annotated[int, Path(ge=1, le=2**53 - 1)]) -> dict[str, Any]:
    """Returns an entry that waits, or that was reviewed."""
    with reading(request) as read:
        found, entry = read.reviews.one(feed), read.entry(feed)
        if found is None or entry is None or not in_sight(caller, _site_of(read, found.station)):
            raise unknown(str(feed))
    text = signing.entry_text(entry) if caller.names_wearers or not _names_wearers(entry) else None
    return _told(found) | {
        "reviewed_by_feed": found.reviewed_feed,
        "text": text,
        "shown": None if text is None else signing.digest_of(text),
    }


def _site_of(read: Transaction, station: str | None) -> str:
    place = read.state(stream(StreamKind.STATION, station)) if station is not None else None
    return place.site if isinstance(place, Station) else ""


def _names_wearers(entry: Entry) -> bool:
    told = entry.body.model_dump()
    return any(told.get(name) for name in WEARING) or entry.stream.startswith(f"{StreamKind.WEARER}:")


def _told(one: Waiting) -> dict[str, Any]:
    return {
        "feed": one.feed,
        "subject": one.stream,
        "kind": one.kind,
        "sort": one.sort,
        "rules": list(one.rules),
        "at": instant(one.at_us),
        "actor": one.actor,
        "station": one.station,
    }
