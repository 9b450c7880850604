"""What happened to one item, as bars: its stages, and beside them contact, drying, loads, holds and being out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from reprocess.pictures.rows.spans import overlaps
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.folding import apply
from reprocess.record.standing import Standing
from reprocess.record.touching import not_undone


class Lane(StrEnum):
    """Lists what runs beside each other in the life of an item, in the order in which it is drawn."""

    STAGE = "stage"
    WET = "wet"
    DRY = "dry"
    OTHER = "other"
    LOAD = "load"
    HOLD = "hold"
    OUT = "out"


LANE_OF: Final = {
    "wet-contact": Lane.WET,
    "immersion": Lane.WET,
    "thermal": Lane.WET,
    "drying": Lane.DRY,
    "aeration": Lane.DRY,
    "charging": Lane.OTHER,
    "rest": Lane.OTHER,
}
"""Where each kind of dwell is drawn."""
CLOCKS: Final = (Lane.WET, Lane.DRY, Lane.OTHER)
"""The lanes of dwells."""


@dataclass(frozen=True, slots=True)
class Bar:
    """Is one interval of an item's life, `[from_us, until_us)`.

    Attributes:
        name: the stage, the kind of dwell, the sort of hold, how it is out, the load.
        detail: the step of a dwell or load, the rule of a hold, the place where it is out.
        open: whether it still goes on; it is then told until now.
        outcome: of what is over: `met` or `broken` of a dwell or load, `lifted` of a hold; empty where nothing is said.
        cycle: the item's cycle in which it began.
    """

    lane: Lane
    name: str
    detail: str
    from_us: int
    until_us: int
    open: bool
    outcome: str
    cycle: int


@dataclass(frozen=True, slots=True)
class LifeRows:
    """Is one item's life, or one cycle of it, within `[from_us, until_us)`.

    Attributes:
        stage: where it stands now.
        cycles: how many cycles it has had.
        cycle: the only cycle that is told, or None for all.
    """

    item: str
    stage: str
    cycles: int
    cycle: int | None
    from_us: int
    until_us: int
    bars: tuple[Bar, ...]

    def of(self, lane: Lane) -> list[Bar]:
        """Returns the bars of one lane."""
        return [one for one in self.bars if one.lane is lane]


def life(item: str, entries: Sequence[Entry], now_us: int, cycle: int | None = None) -> LifeRows:
    """Returns the life of an item until now, oldest first; stages follow each other without a gap.

    A dwell that was written down from a form is told at the times of the form. Otherwise what is on record later never
    begins earlier, also where a clock was set back meanwhile.

    Args:
        item: the item.
        entries: its stream from the beginning.
        now_us: the instant of the answer.
        cycle: the only cycle that is wanted; None for all.

    Raises:
        ValueError: it never had such a cycle, or nothing is on record of it.
    """
    watch = _Watch(item)
    for entry in not_undone(list(entries)):
        watch.see(entry)
    if not watch.standing.known:
        message = f"Nothing is on record of {item}."
        raise ValueError(message)
    bars = list(watch.until(max(now_us, watch.clock_us)))
    bars.sort(key=lambda one: (one.from_us, list(Lane).index(one.lane), one.until_us, one.name, one.detail))

    def wanted(one: Bar) -> bool:
        return one.lane is Lane.STAGE and cycle in (None, one.cycle)

    stages = [one for one in bars if wanted(one)]
    if not stages:
        message = f"{item} had no cycle {cycle}."
        raise ValueError(message)
    from_us, until_us = stages[0].from_us, stages[-1].until_us
    told = [one for one in bars if wanted(one) or (one.lane is not Lane.STAGE and overlaps(one, from_us, until_us))]
    standing = watch.standing
    return LifeRows(item, standing.stage, standing.cycle, cycle, from_us, until_us, tuple(told))


Key = tuple[str, ...]


class _Watch:
    """Follows the standing of an item and keeps what begins and what is over with each entry."""

    def __init__(self, item: str) -> None:
        self.standing = Standing(item=item)
        self.clock_us = 0
        self._open: dict[Key, Bar] = {}
        self._bars: list[Bar] = []

    def see(self, entry: Entry) -> None:
        """Takes one more entry."""
        self.standing = apply(self.standing, entry)
        self.clock_us = max(self.clock_us, entry.at_us)
        now = dict(_going_on(self.standing))
        for key in [one for one in self._open if one not in now]:
            self._close(self._open.pop(key), entry)
        for key, (lane, name, detail) in now.items():
            if key not in self._open:
                from_us = self._when(lane, entry)
                self._open[key] = Bar(
                    lane, name, detail, from_us, from_us, open=True, outcome="", cycle=self.standing.cycle
                )

    def until(self, now_us: int) -> Iterator[Bar]:
        """Yields every bar that takes any time; what still goes on runs until now."""
        still = [replace(one, until_us=max(now_us, one.from_us)) for one in self._open.values()]
        yield from (one for one in (*self._bars, *still) if one.until_us > one.from_us)

    def _close(self, bar: Bar, entry: Entry) -> None:
        until_us = max(bar.from_us, self._when(bar.lane, entry))
        self._bars.append(replace(bar, until_us=until_us, open=False, outcome=_outcome(bar, entry)))

    def _when(self, lane: Lane, entry: Entry) -> int:
        """Returns when an entry counts: of a dwell on a form, when the form says; else in the order of the record."""
        paper = lane in CLOCKS and entry.occurred_us != entry.at_us
        return entry.occurred_us if paper else self.clock_us


def _going_on(standing: Standing) -> Iterable[tuple[Key, tuple[Lane, str, str]]]:
    """Yields what goes on, by what tells it apart from anything else that may go on after it."""
    if standing.known:
        yield ("stage", standing.stage, str(standing.cycle)), (Lane.STAGE, standing.stage, "")
    dwell = standing.dwell
    if dwell is not None:
        lane = LANE_OF.get(dwell.dwell, Lane.OTHER)
        yield ("dwell", str(dwell.number)), (lane, dwell.dwell, dwell.step)
    load = standing.load
    if load is not None and not load.out:
        yield ("load", str(load.number)), (Lane.LOAD, load.load, load.step)
    for hold in standing.holds.values():
        yield ("hold", hold.hold, str(hold.number)), (Lane.HOLD, hold.sort, hold.rule)
    custody = standing.custody
    if custody is not None:
        yield ("out", str(custody.number)), (Lane.OUT, custody.sort, custody.place)


def _outcome(bar: Bar, entry: Entry) -> str:
    """Returns what the entry that ends a bar says of it."""
    match entry.body:
        case words.DwellEnded() if bar.lane in (*CLOCKS, Lane.LOAD):
            return "met"
        case words.HoldLifted() if bar.lane is Lane.HOLD:
            return "lifted"
        case _:
            return "broken" if bar.lane in CLOCKS else ""
