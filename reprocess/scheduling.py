"""Keeps the table of what is due in step with what was just written, inside the same transaction."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.gathering import Library, state_as
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Site
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.words import SiteOpened
from reprocess.terms import StreamKind, stream
from reprocess.timetable import Due, for_instrument, for_item, for_person, for_solution

WITH_DUES: Final = (StreamKind.ITEM, StreamKind.SOLUTION, StreamKind.PERSON, StreamKind.INSTRUMENT)
"""The kinds of stream that reminders are about."""
_PREFIXES: Final = tuple(f"{kind}:" for kind in WITH_DUES)


def refresh_dues(work: Transaction, library: Library, entries: list[Entry]) -> None:
    """Replaces the reminders of every subject that these entries are about."""
    for name in dict.fromkeys(entry.stream for entry in entries if entry.stream.startswith(_PREFIXES)):
        work.dues.replace(name, _dues_of(work, library, work.state(name), entries[-1].at_us))
    if any(isinstance(entry.body, SiteOpened) for entry in entries):
        _refresh_kind(work, library, StreamKind.PERSON)  # whoever belongs to no site is reminded at the first one


def refresh_all(work: Transaction, library: Library) -> None:
    """Makes the reminders of every subject on record anew; what rang stays given and rings no second time."""
    for kind in WITH_DUES:
        _refresh_kind(work, library, kind)


def _refresh_kind(work: Transaction, library: Library, kind: StreamKind) -> None:
    for name, changed_us, state in work.each_of(kind):
        work.dues.replace(name, _dues_of(work, library, state, changed_us))


def site_of(work: Transaction, site: str | None) -> Site:
    """Returns the site of a subject; the first one on record for what belongs to none."""
    if site is not None:
        return state_as(work, stream(StreamKind.SITE, site), Site)
    known = [one for one in work.states_of(StreamKind.SITE) if isinstance(one, Site)]
    return known[0] if known else Site(site="")


def _dues_of(work: Transaction, library: Library, state: State, changed_us: int) -> tuple[Due, ...]:
    match state:
        case Standing() if state.known and state.digest:
            workflow = library.get(work, state.digest)
            return for_item(state, workflow, _zone(work, state.site)) if isinstance(workflow, Workflow) else ()
        case Solution() if state.known:
            agent = library.get(work, state.digest)
            zone = _zone(work, state.site)
            return for_solution(state, agent, zone, changed_us) if isinstance(agent, Agent) else ()
        case Person():
            site = site_of(work, state.sites[0] if state.sites else None)
            return for_person(state, site.site, site.zone, changed_us)
        case Instrument():
            return for_instrument(state, _zone(work, state.site))
        case _:
            return ()


def _zone(work: Transaction, site: str) -> str:
    return site_of(work, site).zone
