"""What an item touches, and from when to when: the intervals from which every trace question is answered.

An entry of an item's stream may open intervals (it went into a bath, a load, an assembly, to a wearer), close those
that are open, or leave a mark without length (a person did a step, an instrument measured it). Everything here
depends on the order within the item's own stream alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body


class Touched(StrEnum):
    """Lists what an item can touch; these words are what a recall names."""

    ASSEMBLY = "assembly"
    INSTRUMENT = "instrument"
    LOAD = "load"
    LOT = "lot"
    MODEL = "model"
    PERSON = "person"
    PLACE = "place"
    RELEASED = "released"
    SERIAL = "serial"
    SOLUTION = "solution"
    WEARER = "wearer"
    WORKFLOW = "workflow"


UNKNOWN_WEARER = "not-identified"
"""Who wears what was issued to nobody on record (U01)."""


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


def opened(entry: Entry) -> list[Touch]:
    """Returns what an entry says that the item touches from now on, or touched at that instant."""
    body, actor = entry.body, entry.envelope.actor
    match body:
        case words.ItemCommissioned():
            return _commissioned(body)
        case words.ItemContaminated():
            return [Touch(Touched.WORKFLOW, body.digest, lasts=True)]
        case words.ItemIssued():
            wearer = body.wearer if body.wearer is not None else UNKNOWN_WEARER
            return [Touch(Touched.WEARER, wearer, lasts=True), Touch(Touched.PLACE, body.place, lasts=True)]
        case words.MemberJoined():
            return [Touch(Touched.ASSEMBLY, body.assembly, body.slot, lasts=True)]
        case _:
            return _worked(body, actor)


def _worked(body: Body, actor: str | None) -> list[Touch]:
    match body:
        case words.DwellStarted():
            bath = [Touch(Touched.SOLUTION, body.solution, body.step, lasts=True)] if body.solution is not None else []
            return bath + _used(body.step, body.instrument, body.lot, actor)
        case words.StepDone():
            return _used(body.step, body.instrument, body.lot, actor)
        case words.StepFailed():
            return _used(body.step, body.instrument, None, actor)
        case words.DwellEnded():
            return _used(body.step, None, None, actor)
        case words.ItemReleased():
            return [Touch(Touched.RELEASED, body.digest, body.step), *_used(body.step, None, None, actor)]
        case _:
            return []


def _commissioned(body: words.ItemCommissioned) -> list[Touch]:
    found = [Touch(Touched.MODEL, body.model, lasts=True), Touch(Touched.WORKFLOW, body.digest, lasts=True)]
    if body.serial is not None:
        found.append(Touch(Touched.SERIAL, body.serial, lasts=True))
    return found


def _used(step: str, instrument: str | None, lot: str | None, actor: str | None) -> list[Touch]:
    named = ((Touched.INSTRUMENT, instrument), (Touched.LOT, lot), (Touched.PERSON, actor))
    return [Touch(sort, name, step) for sort, name in named if name is not None]


def closed(body: Body) -> tuple[Touched, ...]:
    """Returns which of the open intervals of the item an entry closes."""
    match body:
        case words.DwellEnded() | words.DwellBroken() | words.StepFailed():
            return (Touched.SOLUTION,)
        case words.ItemSentToRepair() | words.ItemCondemned() | words.ItemLost():
            return (Touched.SOLUTION,)
        case words.MemberLeft():
            return (Touched.ASSEMBLY,)
        case words.ItemContaminated():
            return (Touched.WORKFLOW,)
        case words.ItemReturned():
            return (Touched.WEARER, Touched.PLACE)
        case _:
            return ()
