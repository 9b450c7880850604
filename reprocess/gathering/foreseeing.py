"""What a batch of requests will surely ask of the record, read at once: few questions take the place of many.

It is read inside the batch's own transaction, so that it is as true as if each request had asked by itself. What is not
foreseen is read when it is asked for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering.reading import person_by_badge, published_stream
from reprocess.gathering.signing import MINUTES_APART_US
from reprocess.ledger.append import Transaction
from reprocess.record.keys import KEYS
from reprocess.record.people import Person
from reprocess.record.places import Station
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.terms import StreamKind, stream

NAMED: Final[Mapping[str, StreamKind]] = MappingProxyType(
    {
        **dict.fromkeys(("item", "part", "other", "again", "new", "members", "items"), StreamKind.ITEM),
        "solution": StreamKind.SOLUTION,
        "instrument": StreamKind.INSTRUMENT,
        "load": StreamKind.LOAD,
        "machine": StreamKind.INSTRUMENT,
        "lot": StreamKind.LOT,
        "place": StreamKind.PLACE,
    }
)
"""The fields of requests that name something on record."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Is what is known of a request before anything is read."""

    key: str
    request: Request
    station: str
    badges: tuple[str, ...]


def foresee(work: Transaction, batch: Collection[Asked], at_us: int) -> None:
    """Reads what these requests will ask for: what they name, who acts where, then what that rests on.

    Args:
        work: the transaction of all of them.
        batch: the requests.
        at_us: when the first of them arrived.
    """
    if not batch or (len(batch) == 1 and not work.on_server):  # a file answers each question at once
        return
    about = {name for one in batch for name in _named(one.request)}
    stations = {stream(StreamKind.STATION, one.station) for one in batch}
    work.foresee(
        about | stations | {KEYS},
        keys={one.key for one in batch},
        badges={badge for one in batch for badge in one.badges},
        dues=about,
    )
    people = {one.person: site for one, site in _acting(work, batch) if len(one.sites) != 1}  # of others, none is asked
    work.foresee_stations(people, at_us - MINUTES_APART_US)
    first = {name for stand in about | stations for name in _rests_on(work.state(stand))}
    work.foresee(first)
    work.foresee(_together(work, first))


def _acting(work: Transaction, batch: Iterable[Asked]) -> Iterator[tuple[Person, str]]:
    """Yields who acts at which site."""
    for one in batch:
        place = work.state(stream(StreamKind.STATION, one.station))
        for badge in one.badges:
            person = person_by_badge(work, badge)
            if person is not None and isinstance(place, Station):
                yield person, place.site


def _named(request: Any) -> Iterator[str]:
    """Yields the streams of what a request names."""
    named = request.work if isinstance(request, asking.EnterLine) else request
    for name, kind in NAMED.items():
        found = getattr(named, name, None)
        for one in (found,) if isinstance(found, str) else found if isinstance(found, tuple) else ():
            if isinstance(one, str):
                yield stream(kind, one)


def _rests_on(state: State) -> Iterator[str]:
    """Yields the streams that are looked at with one: an item's parts, its workflow, the site of either."""
    if isinstance(state, Station) and state.number:
        yield stream(StreamKind.SITE, state.site)
    if isinstance(state, Standing) and state.known:
        yield stream(StreamKind.SITE, state.site)
        yield published_stream("workflow", state.workflow)
        if state.configuration is not None:
            yield published_stream("configuration", state.configuration)
        for one in (state.assembly, *state.members.values()):
            if one is not None:
                yield stream(StreamKind.ITEM, one)


def _together(work: Transaction, names: Iterable[str]) -> set[str]:
    """Returns what the parts and assemblies among these rest on."""
    items = (work.state(one) for one in names if one.startswith(f"{StreamKind.ITEM}:"))
    return {name for one in items for name in _rests_on(one)}
