"""What consents, reviews and overrides are judged on; read only for requests that have them."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine.consenting import kept_in
from reprocess.engine.request.signing import Consent, ReviewEntry, ReviewRefusals
from reprocess.errors import WrongUseError
from reprocess.gathering.reading import Library, part_of, state_as
from reprocess.ledger.append import Transaction
from reprocess.record.consents import Consents
from reprocess.record.people import Person
from reprocess.record.places import Station
from reprocess.record.standing import Standing
from reprocess.record.states import FOLDINGS
from reprocess.record.words import OverrideUsed
from reprocess.rules.asked import Override
from reprocess.rules.override import WEEK_DAYS
from reprocess.rules.scene import Bench, Elsewhere, Past, Scene, Special
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream

MINUTES_APART_US = 300 * SECOND_US
"""Nobody works at two sites within this time (E37, catalogue)."""


def for_consent(read: Transaction, library: Library, at: Bench, request: Consent) -> Scene:
    """Returns what a consent is judged on: where its subject stands.

    Raises:
        WrongUseError: the subject is no stream that anything is on record of.
    """
    kind, _, name = request.subject.partition(":")
    if kind not in FOLDINGS or kind == StreamKind.CONSENT or not name:
        message = f"Consent is about a subject such as item:KIT-7, not {request.subject[:40]!r}."
        raise WrongUseError(message)
    state = read.state(request.subject)
    item = state if isinstance(state, Standing) else Standing(item="")
    scene = Scene(bench=at, item=item, states={request.subject: state})
    part = part_of(read, library, item)
    if part is None:
        return scene
    return replace(
        scene,
        workflow=part.workflow,
        digest=part.digest,
        current=part.current,
        current_digest=part.current_digest,
    )


def for_review(read: Transaction, library: Library, at: Bench, request: ReviewEntry | ReviewRefusals) -> Scene:
    """Returns what a review is judged on: the entry, where it waits for one."""
    del library
    scene = Scene(bench=at, item=Standing(item=""))
    if isinstance(request, ReviewRefusals):
        last = read.entry(max((one.last_feed for one in read.reviews.refusals()), default=0))
        return replace(scene, recent=(last,) if last is not None else ())
    row = read.reviews.one(request.feed)
    entry = read.entry(request.feed) if row is not None and row.reviewed_feed is None else None
    return replace(scene, recent=(entry,) if entry is not None else ())


def special(read: Transaction, at: Bench, override: Override | None, shown: str | None) -> Bench:
    """Returns the bench with what only some requests come with; a plain one costs nothing."""
    elsewhere = _elsewhere(read, at)
    if override is None and shown is None and elsewhere is None:
        return at
    past = _past(read, at.now_us) if override is not None else ()
    return replace(at, special=Special(override=override, past=past, shown=shown, elsewhere=elsewhere))


def _past(read: Transaction, now_us: int) -> tuple[Past, ...]:
    found = []
    for feed in read.reviews.overrides(now_us - WEEK_DAYS * DAY_S * SECOND_US):
        entry = read.entry(feed)
        if entry is not None and isinstance(entry.body, OverrideUsed) and not entry.stream.startswith(_TOOLS):
            body = entry.body
            found.append(Past(body.rule, entry.envelope.actor, body.authorised, entry.at_us))
    return tuple(found)


_TOOLS = f"{StreamKind.INSTRUMENT}:"


def _elsewhere(read: Transaction, at: Bench) -> Elsewhere | None:
    """Returns where the actor, or else the second person, worked at another site minutes ago (E37).

    Who belongs to one site only is refused at any other one anyway (A01), so that nothing is read for them.
    """
    for one in (at.actor, at.second):
        if one is None or len(one.sites) == 1:
            continue
        apart = at.now_us - MINUTES_APART_US, at.now_us + MINUTES_APART_US  # whichever way a clock was set meanwhile
        for station, at_us in read.stations_of(one.person, at.site.site, *apart):
            site = state_as(read, stream(StreamKind.STATION, station), Station).site
            if site and site != at.site.site:
                return Elsewhere(one, site, station, at_us)
    return None


def consents_of(read: Transaction, subject: str) -> Consents:
    """Returns the consents that wait about a subject."""
    return state_as(read, kept_in(subject), Consents)


def person(read: Transaction, name: str) -> Person:
    """Returns a person by id."""
    return state_as(read, stream(StreamKind.PERSON, name), Person)
