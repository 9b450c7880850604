"""One place that knows, for each kind of stream, which standing it folds into and how that is kept as text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import orjson
from pydantic import TypeAdapter

from reprocess.record import (
    access,
    cases,
    consents,
    folding,
    forms,
    keys,
    loads,
    lots,
    people,
    places,
    recalls,
    solutions,
    standing,
    stores,
    subscriptions,
    wearers,
)
from reprocess.record.entry import Entry
from reprocess.terms import StreamKind, subject_of

State = (
    standing.Standing
    | people.Person
    | solutions.Solution
    | places.Site
    | places.Station
    | places.Instrument
    | places.Published
    | cases.Case
    | forms.Form
    | recalls.Recall
    | consents.Consents
    | loads.Load
    | lots.Lot
    | stores.Place
    | wearers.Wearer
    | subscriptions.Subscription
    | access.Access
    | access.Token
    | keys.Sealing
)


@dataclass(frozen=True, slots=True)
class Folding:
    """Is how one kind of stream is folded: an empty start, one step, and the adapter that reads kept text."""

    start: Callable[[str], Any]
    apply: Callable[[Any, Entry], Any]
    adapter: TypeAdapter[Any]


FOLDINGS: dict[str, Folding] = {
    StreamKind.ITEM: Folding(standing.Standing, folding.apply, TypeAdapter(standing.Standing)),
    StreamKind.PERSON: Folding(people.Person, people.apply, TypeAdapter(people.Person)),
    StreamKind.SOLUTION: Folding(solutions.Solution, solutions.apply, TypeAdapter(solutions.Solution)),
    StreamKind.SITE: Folding(places.Site, places.apply_site, TypeAdapter(places.Site)),
    StreamKind.STATION: Folding(places.Station, places.apply_station, TypeAdapter(places.Station)),
    StreamKind.INSTRUMENT: Folding(places.Instrument, places.apply_instrument, TypeAdapter(places.Instrument)),
    StreamKind.WEARER: Folding(wearers.Wearer, wearers.apply, TypeAdapter(wearers.Wearer)),
    StreamKind.LOT: Folding(lots.Lot, lots.apply, TypeAdapter(lots.Lot)),
    StreamKind.PLACE: Folding(stores.Place, stores.apply, TypeAdapter(stores.Place)),
    StreamKind.LOAD: Folding(loads.Load, loads.apply, TypeAdapter(loads.Load)),
    StreamKind.RECALL: Folding(recalls.Recall, recalls.apply, TypeAdapter(recalls.Recall)),
    StreamKind.FORM: Folding(forms.Form, forms.apply, TypeAdapter(forms.Form)),
    StreamKind.CASE: Folding(cases.Case, cases.apply, TypeAdapter(cases.Case)),
    StreamKind.CONSENT: Folding(consents.Consents, consents.apply, TypeAdapter(consents.Consents)),
    StreamKind.SUBSCRIPTION: Folding(
        subscriptions.Subscription, subscriptions.apply, TypeAdapter(subscriptions.Subscription)
    ),
    StreamKind.ACCESS: Folding(access.Access, access.apply, TypeAdapter(access.Access)),
    StreamKind.TOKEN: Folding(access.Token, access.apply_token, TypeAdapter(access.Token)),
    StreamKind.KEY: Folding(keys.Sealing, keys.apply, TypeAdapter(keys.Sealing)),
    StreamKind.WORKFLOW: Folding(places.Published, places.apply_published, TypeAdapter(places.Published)),
}
"""The kinds of stream that this release writes."""


def folding_of(stream: str) -> Folding:
    """Returns how a stream is folded, by the kind in its name."""
    return FOLDINGS[stream.partition(":")[0]]


def start_of(stream: str) -> State:
    """Returns the standing of a stream that has no entries."""
    begun: State = folding_of(stream).start(subject_of(stream))
    return begun


def as_text(state: State) -> str:
    """Returns a standing as the text in which the projection keeps it."""
    return orjson.dumps(state, option=orjson.OPT_SORT_KEYS).decode()


def from_text(stream: str, text: str) -> State:
    """Returns the standing that the projection kept as `text`."""
    kept: State = folding_of(stream).adapter.validate_json(text)
    return kept
