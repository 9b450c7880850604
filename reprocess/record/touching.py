"""What an item touches, and from when to when: the intervals from which every trace question is answered.

An entry of an item's stream may open intervals (it went into a bath, a load, an assembly, to a wearer), close those
that are open, or leave a mark without length (a person did a step, an instrument measured it). Everything here
depends on the order within the item's own stream alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body


class Touched(StrEnum):
    """Lists what an item can touch; these words are what a recall names."""

    ASSEMBLY = "assembly"
    BATCH = "batch"
    INSTRUMENT = "instrument"
    LOAD = "load"
    LOT = "lot"
    MODEL = "model"
    PERSON = "person"
    PLACE = "place"
    RECALL = "recall"
    RELEASED = "released"
    SERIAL = "serial"
    SOLUTION = "solution"
    TAG = "tag"
    WEARER = "wearer"
    WORKFLOW = "workflow"


UNKNOWN_WEARER = "not-identified"
"""Who wears what was issued to nobody on record (U01)."""


OFF: Final = frozenset({"used", "found", "returned-from-repair"})
"""The causes of a new cycle that end a use; what was dropped, say, may still be with its wearer."""
STAYS: Final = frozenset({Touched.RECALL, Touched.RELEASED, Touched.TAG, Touched.WORKFLOW})
"""What is the item's own and does not follow another item of which entries turn out to be about this one (E21)."""


@dataclass(frozen=True, slots=True)
class Touch:
    """Is one thing that an item touched.

    Attributes:
        name: what it was: the bath's id, the person's, the model.
        step: the step in which it did, where it was one.
        lasts: whether it stays open until an entry closes it; else it is a mark at one instant.
    """

    sort: Touched
    name: str
    step: str | None = None
    lasts: bool = False


@dataclass(frozen=True, slots=True)
class TouchRow:
    """Is one interval `[from, until)` in which an item touched something; open ones have no end yet."""

    item: str
    number: int
    sort: str
    name: str
    cycle: int
    step: str | None
    from_us: int
    from_feed: int
    until_us: int | None
    until_feed: int | None

    @property
    def open_now(self) -> bool:
        """Tells whether it has not ended."""
        return self.until_feed is None


def cycle_after(cycle: int, body: Body) -> int:
    """Returns the cycle in which an item is after an entry."""
    match body:
        case words.ItemCommissioned():
            return 1
        case words.ItemContaminated():
            return body.cycle
        case _:
            return cycle


def in_cycles(entries: Iterable[Entry]) -> Iterator[tuple[Entry, int]]:
    """Yields each entry of one item's stream with the cycle that it belongs to, oldest first."""
    cycle = 0
    for entry in entries:
        cycle = cycle_after(cycle, entry.body)
        yield entry, cycle


def not_undone(entries: list[Entry]) -> list[Entry]:
    """Returns the entries that no later one took back as a mis-scan."""
    undone = {number for entry in entries if isinstance(entry.body, words.EntryUndone) for number in entry.body.numbers}
    return [entry for entry in entries if entry.number not in undone]


def opened(entry: Entry) -> list[Touch]:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    """Returns what an entry says that the item touches from now on, or touched at that instant."""
    body = entry.body
    actor = getattr(body, "done_by", None) or entry.envelope.actor
    match body:
        case words.ItemCommissioned():
            return _commissioned(body)
        case words.ItemContaminated() | words.CycleMoved():
            return [Touch(Touched.WORKFLOW, body.digest, lasts=True)]
        case words.ItemIssued():
            return [*_with(body.wearer, body.place), *_used(None, body.instrument, None, None)]
        case words.PartKept():
            return _with(body.wearer, body.place)
        case words.ItemLent():
            return _with(None, body.to)
        case words.WearStepDone():
            worn = [Touch(Touched.WEARER, actor or UNKNOWN_WEARER, body.step, lasts=True)] if body.unissued else []
            return [*worn, *_used(body.step, body.instrument, None, None)]
        case words.ItemSplit() if body.quantity < 0:
            return [Touch(Touched.BATCH, body.other)]
        case words.HoldPlaced() if body.recall is not None:
            return [Touch(Touched.RECALL, body.recall, lasts=True)]
        case words.ItemLoaded():
            return [Touch(Touched.LOAD, body.load, body.step, lasts=True), *_used(body.step, None, None, actor)]
        case words.ItemUnloaded() if body.cause == "found":
            return [Touch(Touched.LOAD, body.load)]
        case words.MemberJoined():
            return [Touch(Touched.ASSEMBLY, body.assembly, body.slot, lasts=True)]
        case words.TagGiven():
            return [Touch(Touched.TAG, body.tag, lasts=True)]
        case words.ItemPlaced():
            return [Touch(Touched.PLACE, body.place, lasts=True)]
        case words.AssemblyBuilt() | words.ItemRepaired():
            return _from_lots(body.lots or {})
        case _:
            return _worked(body, actor) + _stood_by(body, entry.envelope.second)


def _stood_by(body: Body, second: str | None) -> list[Touch]:
    """Returns the second person of a step: a preceptor, or whoever confirmed it (A03, S08)."""
    if second is None or not isinstance(
        body, words.DwellStarted | words.StepDone | words.StepFailed | words.DwellEnded
    ):
        return []
    return [Touch(Touched.PERSON, second, body.step)]


def _with(wearer: str | None, place: str) -> list[Touch]:
    named = wearer if wearer is not None else UNKNOWN_WEARER
    return [Touch(Touched.WEARER, named, lasts=True), Touch(Touched.PLACE, place, lasts=True)]


def named_later(body: Body) -> tuple[int, str] | None:
    """Returns (number, wearer) where an entry names whoever had the item since an earlier one (U01), else None."""
    return (body.number, body.wearer) if isinstance(body, words.WearerIdentified) else None


def _worked(body: Body, actor: str | None) -> list[Touch]:
    match body:
        case words.DwellStarted():
            bath = [Touch(Touched.SOLUTION, body.solution, body.step, lasts=True)] if body.solution is not None else []
            return bath + _used(body.step, body.instrument, body.lot, actor)
        case words.StepDone():
            water = [Touch(Touched.PLACE, body.water, body.step)] if body.water is not None else []
            return water + _used(body.step, body.instrument, body.lot, actor)
        case words.StepFailed():
            return _used(body.step, body.instrument, None, actor)
        case words.DwellEnded():
            return _used(body.step, body.instrument, None, actor)
        case words.ItemReleased():
            return [Touch(Touched.RELEASED, body.digest, body.step), *_used(body.step, None, None, actor)]
        case _:
            return []


def _from_lots(lots: dict[str, str]) -> list[Touch]:
    """Returns one interval a lot, with everything that was fitted from it."""
    fitted = {lot: ", ".join(sorted(into for into in lots if lots[into] == lot)) for lot in lots.values()}
    return [Touch(Touched.LOT, lot, into, lasts=True) for lot, into in sorted(fitted.items())]


def _commissioned(body: words.ItemCommissioned) -> list[Touch]:
    found = [Touch(Touched.MODEL, body.model, lasts=True), Touch(Touched.WORKFLOW, body.digest, lasts=True)]
    if body.serial is not None:
        found.append(Touch(Touched.SERIAL, body.serial, lasts=True))
    if body.lot is not None:
        found.append(Touch(Touched.LOT, body.lot, lasts=True))
    return found


def taken_off(body: Body) -> bool:
    """Tells whether an entry ends the use of what nobody had issued: any new cycle does, as no return will."""
    return isinstance(body, words.ItemContaminated)


def worn_unissued(body: Body, sorts: Iterable[str]) -> bool:
    """Tells whether an entry says that a ready item was used though nobody is on record as having had it (H06).

    Args:
        body: what the entry says.
        sorts: what the item touched since its cycle began, and what it still touches; the wearer of an assembly
            wears its parts.
    """
    used = isinstance(body, words.ItemContaminated) and body.cause == "used"
    found = set(sorts)
    return used and Touched.RELEASED in found and not found & {Touched.WEARER, Touched.ASSEMBLY}


def following(rows: Iterable[TouchRow], numbers: Iterable[int]) -> tuple[words.TouchJoined, ...]:
    """Returns what the entries of these numbers touched, to follow another item; each thing once, at its widest (E21).

    A contact of which nobody can say whose it was is in doubt for both items.
    """
    found: dict[tuple[str, str], words.TouchJoined] = {}
    for row in rows:
        if row.number not in set(numbers) or row.sort in STAYS:
            continue
        one = words.TouchJoined(row.sort, row.name, row.from_us, row.from_feed, row.until_us, row.until_feed, row.step)
        known = found.get((row.sort, row.name))
        found[row.sort, row.name] = one if known is None else _widest(known, one)
    return tuple(found.values())


def _widest(one: words.TouchJoined, two: words.TouchJoined) -> words.TouchJoined:
    ends_us, ends_feed = (one.until_us, two.until_us), (one.until_feed, two.until_feed)
    return replace(
        one,
        from_us=min(one.from_us, two.from_us),
        from_feed=min(one.from_feed, two.from_feed),
        until_us=None if None in ends_us else max(end for end in ends_us if end is not None),
        until_feed=None if None in ends_feed else max(end for end in ends_feed if end is not None),
    )


def joined(entry: Entry) -> tuple[words.TouchJoined, ...]:
    """Returns what follows an item from another one's stream; what was open there ends with the entry that joins."""
    if not isinstance(entry.body, words.HistoryJoined):
        return ()
    ended = (
        one if one.until_feed is not None else replace(one, until_us=entry.at_us, until_feed=entry.feed)
        for one in entry.body.touched or ()
    )
    return tuple(ended)


def rows_of(item: str, entries: list[Entry]) -> list[TouchRow]:
    """Returns every interval of one item that its entries come to, as the ledger keeps them, in no order.

    Args:
        item: the item.
        entries: its stream from the beginning, up to any entry.
    """
    rows: dict[tuple[int, str, str], TouchRow] = {}
    for entry, cycle in in_cycles(not_undone(entries)):
        for one in _after(item, entry, cycle, list(rows.values())):
            key = (one.number, one.sort, one.name)
            rows[key] = rows.get(key, one) if one.number == entry.number else one
        named = named_later(entry.body)
        if named is not None:
            _name(rows, *named)
    return list(rows.values())


def _name(rows: dict[tuple[int, str, str], TouchRow], number: int, wearer: str) -> None:
    for key in [key for key in rows if key[:2] == (number, Touched.WEARER)]:
        rows[number, Touched.WEARER, wearer] = replace(rows.pop(key), name=wearer)


def _after(item: str, entry: Entry, cycle: int, rows: list[TouchRow]) -> Iterator[TouchRow]:
    """Yields the rows that an entry ends or begins."""
    end = (entry.at_us, entry.feed)
    for row in rows:
        off = taken_off(entry.body) and row.sort == Touched.WEARER and row.step is not None
        if row.open_now and (off or row.sort in closed(entry.body)):
            yield replace(row, until_us=entry.at_us, until_feed=entry.feed)
    began = max((row.number for row in rows if row.sort == Touched.WORKFLOW and row.open_now), default=0)
    if worn_unissued(entry.body, [row.sort for row in rows if row.number >= began or row.open_now]):
        yield TouchRow(item, entry.number, Touched.WEARER, UNKNOWN_WEARER, cycle - 1, None, *end, *end)
    for one in opened(entry):
        until: tuple[int | None, int | None] = (None, None) if one.lasts else end
        yield TouchRow(item, entry.number, one.sort, one.name, cycle, one.step, *end, *until)
    for told in joined(entry):
        then = max(
            (row.cycle for row in rows if row.sort == Touched.WORKFLOW and row.from_feed <= told.from_feed), default=1
        )
        yield TouchRow(
            item, entry.number, told.sort, told.name, then, told.step,
            told.from_us, told.from_feed, told.until_us, told.until_feed,
        )  # fmt: skip


def _used(step: str | None, instrument: str | None, lot: str | None, actor: str | None) -> list[Touch]:
    named = ((Touched.INSTRUMENT, instrument), (Touched.LOT, lot), (Touched.PERSON, actor))
    return [Touch(sort, name, step) for sort, name in named if name is not None]


def closed(body: Body) -> tuple[Touched, ...]:  # noqa: C901, PLR0911, PLR0912 - one case a kind
    """Returns which of the open intervals of the item an entry closes."""
    match body:
        case words.DwellEnded() | words.DwellBroken() | words.StepFailed():
            return (Touched.SOLUTION,)
        case words.ItemCondemned():
            return (Touched.SOLUTION, Touched.RECALL)
        case words.ItemSentToRepair() | words.ItemLost():
            return (Touched.SOLUTION,)
        case words.HeldSighted():
            return (Touched.RECALL,)
        case words.ItemUnloaded():
            return (Touched.LOAD,)
        case words.TagGiven() | words.TagWithdrawn():
            return (Touched.TAG,)
        case words.MemberLeft():
            return (Touched.ASSEMBLY,)
        case words.ItemContaminated() if body.cause in OFF:
            return (Touched.WORKFLOW, Touched.WEARER)
        case words.ItemContaminated() | words.CycleMoved():
            return (Touched.WORKFLOW,)
        case words.ItemReturned() | words.ItemReceived():
            return (Touched.WEARER, Touched.PLACE)
        case words.ItemPlaced() | words.ItemTakenOut() | words.ItemIssued() | words.ItemLent() | words.PartKept():
            return (Touched.PLACE,)
        case words.AssemblyBuilt() | words.AssemblyDissolved():
            return (Touched.LOT,)
        case _:
            return ()
