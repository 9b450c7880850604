"""Takes the facts that a bench's screen kept while its server was away, one by one, each under a key of its own.

A fact is asked as its scan would have been. What it touches may have moved on meanwhile: the fact stands on record all
the same, and a person has to look. Two things wait for a person first: a fact of somebody else, which would stand under
the wrong name, and a re-wet, which on record would be wet later than the film was.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import PlaceHold
from reprocess.errors import NotSignedInError, ReprocessError
from reprocess.ledger.append import looking
from reprocess.service import scanning
from reprocess.service.pages import rendering
from reprocess.service.pages.bench.place import Place, place_of
from reprocess.service.pages.forms import Form, PageRoute, form_of
from reprocess.service.pages.rendering import Words
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import in_sight
from reprocess.service.served import Served, served
from reprocess.service.taking_scans import Given, Outcome, Understood, answer, understand
from reprocess.terms import StreamKind, stream, subject_of

CODES_MOST: Final = 100
CODE_MOST: Final = 256
"""Characters of one scanned string."""
LOOKED_BACK: Final = 20
"""Entries of one item that are looked at for what happened meanwhile (our choice)."""
REWET: Final = "RE-WET"
_WHEN: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,3})?Z", re.ASCII)

router = APIRouter(route_class=PageRoute, include_in_schema=False)
Sent = Annotated[Form, Depends(form_of)]


@dataclass(frozen=True, slots=True)
class Fact:
    """Is one fact as a screen kept it.

    Attributes:
        codes: what was scanned, in its order.
        kept_at: when, by the screen's own clock, in UTC.
        seen: the number of the latest entry that the screen had heard of.
        person: who was signed in then; empty for nobody.
        maybe: whether it was sent before as an ordinary scan whose answer was lost.
        confirmed: whether a person looked, and wants it sent.
    """

    codes: tuple[str, ...]
    key: str
    kept_at: str
    seen: int
    person: str
    maybe: bool
    confirmed: bool


@dataclass(slots=True)
class Came:
    """Is what one fact came to: recorded as it is, or something to look at."""

    look: list[Markup] = field(default_factory=list)
    outcomes: Sequence[Outcome] = ()
    asks: bool = False

    @property
    def result(self) -> str:
        """Returns the word for the script."""
        return "look" if self.look else "recorded"


def read_fact(form: Form) -> Fact:
    """Returns the fact that a form brings.

    Raises:
        ProblemError: it has no key, no codes or too many, no time, or a person of no such name.
    """
    found, at, seen = tuple(form.all("code")), form.get("kept_at") or "", form.get("seen") or "0"
    fit = 0 < len(found) <= CODES_MOST and all(len(one) <= CODE_MOST for one in found)
    if not fit or not _WHEN.fullmatch(at) or not seen.isascii() or not seen.isdigit() or len(seen) > len(str(2**53)):
        message = "The kept scan cannot be read. Nothing was recorded."
        raise ProblemError("invalid", message)
    if form.get("person") is not None:
        form.name("person")
    maybe, confirmed = form.get("maybe") is not None, form.get("confirmed") is not None
    return Fact(found, form.key, at, int(seen), form.get("person") or "", maybe, confirmed)


@router.post("/bench/{station}/kept")
async def kept(request: Request, station: str, form: Sent) -> Response:
    """Take one kept fact, and say whether somebody has to look."""
    fact = read_fact(form)
    place = await place_of(request, station)
    if not place.person:
        message = "Nobody is signed in here. Scan a badge."
        raise NotSignedInError(message)
    words = rendering.words_for(request)
    came = await _came(request, place, fact, words)
    return rendering.page(request, "bench_kept.html", words=words, came=came)


async def _came(request: Request, place: Place, fact: Fact, words: Words) -> Came:
    """Returns what a fact came to.

    Raises:
        ReprocessError: nothing could be recorded, and it must be sent again.
    """
    if fact.person != place.caller.person and not fact.confirmed:
        return Came([words("bench-screen.other-person", person=fact.person or "-", own=place.name or "")], asks=True)
    given = Given(fact.codes, fact.key, place.station.station)
    found = await understand(request, place.caller, given)
    command = found.wanted.command
    if command is None or command.name not in scanning.FACTS or not found.wanted.requests:
        return Came([words("bench-screen.no-fact")])
    items = [subject_of(subject) for subject, _ in found.wanted.requests]
    if command.name == REWET:
        return Came([words("bench-screen.wet-now", items=", ".join(items))])
    moved = await anyio.to_thread.run_sync(_moved, served(request), place, fact, items, words)
    try:
        outcomes = await answer(request, _noted(found, fact, place), given)
    except ReprocessError as fault:
        if fault.exit_code != _USE:
            raise
        return Came([*moved, words.told(fault.sentence)])
    return Came([*moved, *_unread(found, words), *_refused(outcomes, words, found.acting.zone)], outcomes)


_USE: Final = 2
"""The exit code of errors that the request itself is to blame for: sent again, it would fail again."""


def _noted(found: Understood, fact: Fact, place: Place) -> Understood:
    """Returns a scan whose holds say when it was scanned, and under whom where another person sends it.

    One that may stand on record already stays as it was.
    """
    if fact.maybe:
        return found
    whose = f", kept under {fact.person}" if fact.person not in {"", place.caller.person} else ""
    when = f"{fact.kept_at} by the screen's clock, while the server was away{whose}"
    requests = tuple(
        (subject, replace(one, cause=f"{one.cause}, {when}") if isinstance(one, PlaceHold) else one)
        for subject, one in found.wanted.requests
    )
    return replace(found, wanted=replace(found.wanted, requests=requests))


def _moved(parts: Served, place: Place, fact: Fact, items: Sequence[str], words: Words) -> list[Markup]:
    """Returns a sentence for each item about which something was recorded after what the screen had heard of."""
    told = []
    with looking(parts.department.ledger) as read:
        for name in items:
            found = read.item(name)
            if not found.known or not in_sight(place.caller, found.site):
                continue
            latest = read.latest_of(stream(StreamKind.ITEM, name), LOOKED_BACK)
            own = f"{fact.key}/"
            if any(one.feed > fact.seen and not one.envelope.key.startswith(own) for one in latest):
                stage = str(words.texts.known("stage", str(found.stage)))
                key = "bench-screen.moved-away" if found.custody is not None else "bench-screen.moved"
                told.append(words(key, item=name, stage=stage))
    return told


def _unread(found: Understood, words: Words) -> list[Markup]:
    """Returns a sentence for each code that means nothing here."""
    lost = (one.seen for one in found.scan.codes if one.sort in {scanning.UNREADABLE, scanning.UNKNOWN})
    return [words("bench-screen.not-read", code=one) for one in lost]


def _refused(outcomes: Sequence[Outcome], words: Words, zone: str) -> list[Markup]:
    """Returns why something was refused, or stops the item, with what to do next."""
    told: list[Markup] = []
    for one in outcomes:
        if one.verdict == "accepted" or (one.verdict == "held" and one.asked == PlaceHold.asked):
            continue  # a hold that was wanted is what it came to
        reasons = [one.bar] if one.bar is not None else list(one.answer.reasons) if one.answer is not None else []
        shown = [rendering.told(reason, words, zone) for reason in reasons]
        told += [Markup("{} {}").format(each.why, each.next) for each in shown]
        if one.fault is not None:
            told.append(words.told(one.fault))
        if not reasons and one.fault is None:
            told.append(words("bench-screen.not-on-record", item=subject_of(one.subject)))
    return told
