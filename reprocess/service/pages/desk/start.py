"""The desk's first page: what waits for this person, with figures that lead on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.record.recalls import Recall
from reprocess.reminders.listing import coming
from reprocess.service import who
from reprocess.service.api import workflows as files
from reprocess.service.pages import rendering
from reprocess.service.pages.forms import PageRoute
from reprocess.service.seeing import department_of, in_sight, reading
from reprocess.service.who import Caller
from reprocess.terms import DAY_S, StreamKind

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Card:
    """Is one thing that waits: its page, its figure, and whether somebody should look now."""

    name: str
    figure: int
    urgent: bool


@router.get("/desk")
def start(request: Request, caller: Annotated[Caller, Depends(who.needs("read-items"))]) -> Response:
    """Show what waits, of what the caller may see."""
    department = department_of(request)
    now_us = department.clock.now().wall_us
    due = [one for one in coming(department.ledger, now_us, DAY_S) if in_sight(caller, _site(one.row.due.words))]
    late = sum(1 for one in due if one.overdue)
    with reading(request) as read:
        cards = [
            Card("reminders", late, urgent=late > 0),
            Card("holds", held := _held(read, caller), urgent=held > 0),
        ]
        if _may(caller, "read-reviews"):
            waiting = len(read.reviews.waiting())
            cards.insert(0, Card("reviews", waiting, urgent=waiting > 0))
        if _may(caller, "read-recalls"):
            opened = sum(1 for one in read.states_of(StreamKind.RECALL) if isinstance(one, Recall) and _open(one))
            cards.append(Card("recalls", opened, urgent=opened > 0))
        proposed = sum(1 for one in files.published_files(read) if one.proposed is not None)
        cards.append(Card("workflows", proposed, urgent=proposed > 0))
    return rendering.page(request, "desk/start.html", caller=caller, cards=cards)


def _site(words: object) -> str:
    return str(words.get("site") or "") if isinstance(words, dict) else ""


def _held(read: Transaction, caller: Caller) -> int:
    return sum(1 for one in read.items() if one.holds and in_sight(caller, one.site))


def _open(recall: Recall) -> bool:
    return recall.number > 0 and recall.closed_us is None


def _may(caller: Caller, operation: str) -> bool:
    return who.may_of(caller, operation) is None
