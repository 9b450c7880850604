"""What else is due anew when something was written: other lots of a product, the places where items lay."""

from __future__ import annotations

from reprocess.gathering.places import items_at
from reprocess.ledger.append import Transaction
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.lots import Lot
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.record.touching import Touched
from reprocess.terms import Stage, StreamKind, stream, subject_of
from reprocess.timetable.place import Stock

_LOTS = f"{StreamKind.LOT}:"
_ITEMS = f"{StreamKind.ITEM}:"
_MOVES = (words.ItemPlaced, words.ItemTakenOut, words.ItemIssued)


def beside(work: Transaction, entries: list[Entry]) -> list[str]:
    """Returns the streams whose reminders also depend on these entries; nothing for a step of what lies nowhere."""
    found: list[str] = []
    for entry in entries:
        if entry.stream.startswith(_LOTS):
            lot = work.state(entry.stream)
            found += [stream(StreamKind.LOT, one.lot) for one in alike(work, lot)] if isinstance(lot, Lot) else []
        elif entry.stream.startswith(_ITEMS):
            found += [stream(StreamKind.PLACE, place) for place in _places(work, entry)]
        elif isinstance(entry.body, words.PlaceOpened):
            found += [stream(StreamKind.ITEM, item) for item in items_at(work, subject_of(entry.stream))]
    return found


def alike(work: Transaction, lot: Lot) -> tuple[Lot, ...]:
    """Returns every lot of the same product at the same site, this one among them."""
    lots = (one for one in work.states_of(StreamKind.LOT) if isinstance(one, Lot) and one.known)
    return tuple(one for one in lots if (one.product, one.site) == (lot.product, lot.site))


def stock_of(work: Transaction, place: Place) -> Stock | None:
    """Returns how many items lie ready and free of holds at a place that keeps a par level, and since when (Q07)."""
    if place.par is None:
        return None
    items = [work.item(name) for name in items_at(work, place.place)]
    idle = [one for one in items if one.stage != Stage.READY or one.holds]
    since = [place.set_up_us, work.touches.last_end(Touched.PLACE, place.place)]
    since += [max(one.since_us, *(hold.placed_us for hold in one.holds.values())) for one in idle if one.holds]
    since += [one.since_us for one in idle if not one.holds]
    return Stock(len(items) - len(idle), max(since))


def _places(work: Transaction, entry: Entry) -> list[str]:
    """Returns the places that an entry of an item may matter to: where it lies, and what it just left."""
    item = work.state(entry.stream)
    lies = item.place if isinstance(item, Standing) else None
    names = {lies} if lies is not None else set()
    if isinstance(entry.body, _MOVES):
        rows = work.touches.by(subject_of(entry.stream))
        names |= {row.name for row in rows if row.sort == Touched.PLACE and row.until_feed == entry.feed}
    return [name for name in sorted(names) if work.state(stream(StreamKind.PLACE, name)).number]
