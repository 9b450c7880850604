"""Keeps the table of what is due in step with what was just written, inside the same transaction."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.gathering import Library, published_stream, state_as
from reprocess.gathering.beside import alike, beside, stock_of
from reprocess.ledger.append import Transaction
from reprocess.ledger.reviews import Oldest
from reprocess.record.cases import Case
from reprocess.record.entry import Entry
from reprocess.record.loads import Load
from reprocess.record.lots import Lot
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.recalls import Recall
from reprocess.record.reviewing import REFUSED, sort_of
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.stores import Place
from reprocess.record.words import EntryReviewed, FlagSettled, SiteOpened
from reprocess.terms import StreamKind, stream
from reprocess.timetable import (
    Due,
    for_case,
    for_file,
    for_instrument,
    for_item,
    for_load,
    for_lot,
    for_person,
    for_place,
    for_recall,
    for_site,
    for_solution,
)
from reprocess.timetable.reviews import for_queue, queue_of

WITH_DUES: Final = (
    StreamKind.ITEM,
    StreamKind.SOLUTION,
    StreamKind.PERSON,
    StreamKind.INSTRUMENT,
    StreamKind.RECALL,
    StreamKind.CASE,
    StreamKind.LOAD,
    StreamKind.LOT,
    StreamKind.PLACE,
    StreamKind.SITE,
    StreamKind.WORKFLOW,
)
"""The kinds of stream that reminders are about."""
_PREFIXES: Final = tuple(f"{kind}:" for kind in WITH_DUES)


def refresh_dues(work: Transaction, library: Library, entries: list[Entry]) -> None:
    """Replaces the reminders of every subject that these entries are about."""
    about = [entry.stream for entry in entries if entry.stream.startswith(_PREFIXES)]
    for name in dict.fromkeys((*about, *beside(work, entries))):
        work.dues.replace(name, _dues_of(work, library, work.state(name), entries[-1].at_us))
    if any(_is_for_review(entry) for entry in entries):
        _refresh_queues(work)
    if any(isinstance(entry.body, SiteOpened) for entry in entries):
        _refresh_kind(work, library, StreamKind.WORKFLOW)
        _refresh_kind(work, library, StreamKind.PERSON)  # whoever belongs to no site is reminded at the first one


def _refresh_queues(work: Transaction) -> None:
    """Replaces the reminder of each site's queue by one that counts from what waits longest there (D14)."""
    sites: dict[str, list[Oldest]] = {}
    for one in work.reviews.oldest():
        place = state_as(work, stream(StreamKind.STATION, one.station), Station) if one.station is not None else None
        sites.setdefault(site_of(work, place.site if place is not None and place.site else None).site, []).append(one)
    for site in (one for one in work.states_of(StreamKind.SITE) if isinstance(one, Site)):
        waiting = sites.get(site.site, [])
        first = min(waiting, key=lambda one: one.feed, default=None)
        due = (
            ()
            if first is None
            else for_queue(
                site.site,
                oldest_us=first.at_us,
                oldest_feed=first.feed,
                waiting=sum(one.waiting for one in waiting),
            )
        )
        work.dues.replace(queue_of(site.site), due)


def _is_for_review(entry: Entry) -> bool:
    """Tells whether an entry waits for somebody to look at it, or ends such a wait."""
    return sort_of(entry.body) not in {None, REFUSED} or isinstance(entry.body, EntryReviewed | FlagSettled)


def refresh_all(work: Transaction, library: Library) -> None:
    """Makes the reminders of every subject on record anew; what rang stays given and rings no second time."""
    for kind in WITH_DUES:
        _refresh_kind(work, library, kind)
    _refresh_queues(work)


def _refresh_kind(work: Transaction, library: Library, kind: StreamKind) -> None:
    for name, changed_us, state in work.each_of(kind):
        work.dues.replace(name, _dues_of(work, library, state, changed_us))


def site_of(work: Transaction, site: str | None) -> Site:
    """Returns the site of a subject; the first one on record for what belongs to none."""
    if site is not None:
        return state_as(work, stream(StreamKind.SITE, site), Site)
    known = [one for one in work.states_of(StreamKind.SITE) if isinstance(one, Site)]
    return known[0] if known else Site(site="")


def _dues_of(work: Transaction, library: Library, state: State, changed_us: int) -> tuple[Due, ...]:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    match state:
        case Standing() if state.known and state.digest:
            workflow = library.get(work, state.digest)
            months = _months(work, state)
            return for_item(state, workflow, _zone(work, state.site), months) if isinstance(workflow, Workflow) else ()
        case Solution() if state.known:
            agent = library.get(work, state.digest)
            zone = _zone(work, state.site)
            return for_solution(state, agent, zone, changed_us) if isinstance(agent, Agent) else ()
        case Person():
            site = site_of(work, state.sites[0] if state.sites else None)
            return for_person(state, site.site, site.zone, changed_us)
        case Case():
            site = site_of(work, None)
            return for_case(state, site.site, site.zone)
        case Load() if state.known:
            return for_load(state)
        case Recall() if state.is_open:
            return for_recall(state, site_of(work, None).site)
        case Site() if state.number:
            return for_site(state)
        case Published():
            site = site_of(work, None)
            return for_file(state, published_stream(state.sort, state.name), site.site, site.zone)
        case Lot() if state.known:
            return for_lot(state, alike(work, state))
        case Place() if state.known:
            return for_place(state, stock_of(work, state), _zone(work, state.site))
        case Instrument():
            return for_instrument(state, _zone(work, state.site))
        case _:
            return ()


def _zone(work: Transaction, site: str) -> str:
    return site_of(work, site).zone


def _months(work: Transaction, item: Standing) -> int | None:
    """Returns how often the place where an item lies asks for its inspection (Q03)."""
    if item.place is None:
        return None
    return state_as(work, stream(StreamKind.PLACE, item.place), Place).every_months
