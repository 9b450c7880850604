"""The reminders of a place: its par level (Q07), what must be brought (Q05), limits that are not kept (Q02)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.record.stores import Place
from reprocess.rules.places import CLEAN_STORES, OUT_US, VAPOUR_LIMITS
from reprocess.terms import StreamKind, stream
from reprocess.timetable.days import local_date
from reprocess.timetable.due import GRAVE, SOON, Due, Words, key_of

DAILY: Final = "par"
"""A par level that is not kept is brought to mind once a local day."""


@dataclass(frozen=True, slots=True)
class Stock:
    """Is how many ready items lie at a place, and since when it is no more than that."""

    ready: int
    since_us: int


def for_place(place: Place, stock: Stock | None, zone: str) -> tuple[Due, ...]:
    """Returns every reminder that a place calls for.

    Args:
        place: where the place stands.
        stock: what lies there; None where no par level is kept.
        zone: the time zone of its site.
    """
    found = []
    if place.par is not None and stock is not None and stock.ready < place.par:
        day = local_date(zone, stock.since_us).isoformat()
        words: Words = {"say": "below-par", "have": stock.ready, "par": place.par}
        found.append(_due(place, "Q07", (day, DAILY), stock.since_us, SOON, words))
    if place.restock is not None and place.restock_us is not None:
        words = {"say": "restock", "because": place.restock}
        found.append(_due(place, "Q05", (f"since-{place.restock_us}", "restock"), place.restock_us, SOON, words))
    for name, seen in sorted(place.seen.items()):
        if seen.out_us is not None and place.sort in CLEAN_STORES and name not in VAPOUR_LIMITS:
            words = {"say": "place-out", "reading": name, "limit": seen.limit}
            cause = (f"{name}-{seen.out_us}", "out")
            found.append(_due(place, "Q02", cause, seen.out_us + OUT_US, GRAVE, words))
    return tuple(found)


def _due(place: Place, rule: str, cause: tuple[str, str], due_us: int, severity: int, words: Words) -> Due:
    subject = stream(StreamKind.PLACE, place.place)
    held: Words = {"site": place.site, "place": place.place}
    return Due(key_of(rule, subject, *cause), subject, rule, due_us, severity, held | words)
