"""The standing of a place: a store, a cabinet, a quarantine, a drying slot, a drop point, a water point."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Seen:
    """Is the latest reading of one sort at a place: what it showed, when, and since when it is out of its limits.

    Attributes:
        out_us: when it was first found out of its limits since it was last within them; None while it is within.
        rechecked: whether what lies there was held for that already (Q02).
    """

    value: str
    at_us: int
    good: bool
    limit: str
    out_us: int | None = None
    rechecked: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Is a place where items lie, or from which water is taken.

    Attributes:
        zone: clean or dirty.
        par: how many ready units should lie here (Q07), or None.
        limits: readings with their least and most, as text (Q02).
        seal: the number of the seal that closes a cabinet, or None where it is open.
        every_months: how often each unit here is inspected (Q03, Q06); None where its workflow alone says so.
        asks: the readings that each inspection records (Q06).
        grade: the quality of the water that is taken here while every reading is within its limits (L11).
        seen: the latest reading of each sort.
        good_us: when each sort of reading was last within its limits.
        restock: why it must be filled up, or None (Q05).
        set_up_us: when it was last set up.
    """

    place: str
    title: str = ""
    sort: str = ""
    zone: str = "dirty"
    site: str = ""
    par: int | None = None
    limits: dict[str, str] = field(default_factory=dict)
    seal: str | None = None
    every_months: int | None = None
    asks: tuple[str, ...] = ()
    grade: str | None = None
    seen: dict[str, Seen] = field(default_factory=dict)
    good_us: dict[str, int] = field(default_factory=dict)
    opened_us: int | None = None
    restock: str | None = None
    restock_us: int | None = None
    set_up_us: int = 0
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether it is on record."""
        return bool(self.sort)


def apply(place: Place, entry: Entry) -> Place:
    """Returns the place after one more entry of its stream."""
    body = entry.body
    after = replace(place, place=subject_of(entry.stream), number=entry.number)
    match body:
        case words.PlaceOpened():
            return replace(_set_up(after, body), set_up_us=entry.at_us)
        case words.PlaceRead():
            return _read(after, body, entry.at_us)
        case words.CabinetOpened():
            return replace(after, seal=None, opened_us=entry.at_us)
        case words.CabinetSealed():
            return replace(after, seal=body.seal, opened_us=None, restock=None, restock_us=None)
        case words.RestockAsked():
            return replace(after, restock=body.because, restock_us=entry.at_us)
        case _:
            return after


def _set_up(place: Place, body: words.PlaceOpened) -> Place:
    """Returns the place as it is set up; said again it replaces what was said, and keeps what was seen there."""
    return replace(
        place,
        title=body.title,
        sort=body.sort,
        zone=body.zone,
        site=body.site,
        par=body.par,
        limits=dict(body.limits),
        seal=body.seal if body.seal is not None else place.seal,
        every_months=body.every_months,
        asks=body.asks,
        grade=body.grade,
    )


def _read(place: Place, body: words.PlaceRead, at_us: int) -> Place:
    before = place.seen.get(body.reading)
    was_out = before.out_us if before is not None else None
    seen = Seen(
        value=body.value,
        at_us=at_us,
        good=body.good,
        limit=body.limit,
        out_us=None if body.good else (was_out if was_out is not None else at_us),
        rechecked=not body.good and (body.rechecked is True or (before is not None and before.rechecked)),
    )
    good = {**place.good_us, body.reading: at_us} if body.good else place.good_us
    return replace(place, seen={**place.seen, body.reading: seen}, good_us=good)
