"""From cycles in doubt to the uses that rest on them (H06, H07)."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from reprocess.record.touching import Touched, TouchRow
from reprocess.record.words import ExposedUse

RowsOf = Callable[[str, int, int], list[TouchRow]]
"""Returns what an item touched that had not ended before an entry of the record and an instant."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Is one cycle of an item that is in doubt, and since which entry and instant."""

    item: str
    cycle: int
    feed: int
    at_us: int


@dataclass(frozen=True, slots=True)
class Window:
    """Is the time in which every use of an item rests on a cycle in doubt; open where no valid cycle followed."""

    cycle: int
    from_feed: int
    from_us: int
    until_feed: int | None = None
    until_us: int | None = None

    def meets(self, row: TouchRow) -> bool:
        """Tells whether an interval overlaps the window, in the record's order or by the clock: either is enough."""
        by_feed = (row.until_feed is None or row.until_feed >= self.from_feed) and (
            self.until_feed is None or row.from_feed < self.until_feed
        )
        by_clock = (row.until_us is None or row.until_us >= self.from_us) and (
            self.until_us is None or row.from_us < self.until_us
        )
        return by_feed or by_clock


ONWARD: Final = frozenset({Touched.LOT, Touched.MODEL, Touched.SERIAL})
"""What puts every later cycle of an item in doubt too: no cleaning makes a bad lot or model good."""
IN_CYCLE: Final = frozenset(
    {Touched.SOLUTION, Touched.LOAD, Touched.INSTRUMENT, Touched.PERSON, Touched.WORKFLOW, Touched.ASSEMBLY}
)
"""What puts only the cycle in doubt in which it was touched."""


def doubts_of(
    rows: Iterable[TouchRow], rows_of: RowsOf, recurring: Collection[tuple[str, str | None]] = ()
) -> list[Doubt]:
    """Returns the cycles that are in doubt because of what these intervals touched.

    Args:
        rows: the intervals, all of one thing.
        rows_of: what an item touched since.
        recurring: the items and steps whose result counts in later cycles too, until the step is done again.
    """
    found: list[Doubt] = []
    for row in rows:
        if row.sort in ONWARD:
            found += _onward(row, rows_of(row.item, row.from_feed, row.from_us), None)
        elif row.sort == Touched.INSTRUMENT and (row.item, row.step) in recurring:
            since = rows_of(row.item, row.from_feed, row.from_us)
            again = (one for one in since if one.sort == row.sort and one.step == row.step and one.number > row.number)
            found += _onward(row, since, next(again, None))
        elif row.sort == Touched.WORKFLOW:
            found += whole_cycles([row])
        elif row.sort in IN_CYCLE:
            found.append(Doubt(row.item, row.cycle, row.from_feed, row.from_us))
    return found


def _onward(row: TouchRow, since: Iterable[TouchRow], until: TouchRow | None) -> list[Doubt]:
    """Returns the cycle of an interval and those after it, up to the one of `until`, which is good again.

    What was fitted and taken out again, such as a gasket of a lot, puts nothing in doubt that began after that.
    """
    first = Doubt(row.item, row.cycle, row.from_feed, row.from_us)
    out = row.until_feed if row.until_feed != row.from_feed else None
    later = [one for one in whole_cycles(since) if one.cycle > row.cycle and (out is None or one.feed < out)]
    return [first, *(one for one in later if until is None or one.cycle < until.cycle)]


def whole_cycles(rows: Iterable[TouchRow]) -> list[Doubt]:
    """Returns each cycle among these intervals as doubted from its beginning.

    It begins a microsecond after the entry that says so: a use that ended with that very scan was of the cycle before.
    """
    return [Doubt(row.item, row.cycle, row.from_feed, row.from_us + 1) for row in rows if row.sort == Touched.WORKFLOW]


def earliest(doubts: Iterable[Doubt]) -> dict[str, dict[int, Doubt]]:
    """Returns the first doubt of each cycle of each item."""
    found: dict[str, dict[int, Doubt]] = {}
    for one in doubts:
        of_item = found.setdefault(one.item, {})
        known = of_item.get(one.cycle)
        if known is None or one.feed < known.feed:
            of_item[one.cycle] = one
    return found


def windows(doubts: Mapping[int, Doubt], rows: Iterable[TouchRow]) -> list[Window]:
    """Returns the window of each cycle in doubt: until the release of the next cycle that is not in doubt (H07)."""
    releases = [row for row in rows if row.sort == Touched.RELEASED and row.cycle not in doubts]
    found = []
    for cycle, one in sorted(doubts.items()):
        until = next((row for row in releases if row.cycle > cycle), None)
        found.append(
            Window(
                cycle,
                one.feed,
                one.at_us,
                until.from_feed if until is not None else None,
                until.from_us if until is not None else None,
            )
        )
    return found


def exposed(doubts: Iterable[Doubt], rows_of: RowsOf) -> tuple[ExposedUse, ...]:
    """Returns every use of the items in doubt, as part of an assembly or alone, by item and time, each once.

    A use within the windows of several cycles counts for the latest of them.
    """
    found: dict[tuple[str, str, str, int], ExposedUse] = {}
    for item, cycles in sorted(earliest(doubts).items()):
        first = min(cycles.values(), key=lambda one: one.feed)
        rows = rows_of(item, first.feed, first.at_us)
        for window in reversed(windows(cycles, rows)):
            for row, place in worn(window, rows, rows_of):
                use = _use(item, window, row, place)
                found.setdefault((item, use.whole, use.wearer, use.from_us), use)
    return tuple(sorted(found.values(), key=lambda use: (use.item, use.from_us, use.wearer)))


def worn(window: Window, rows: list[TouchRow], rows_of: RowsOf) -> Iterable[tuple[TouchRow, str | None]]:
    """Yields the wearings that meet a window, with their places: of the item itself, then of what it was built into.

    Args:
        window: the time that counts.
        rows: what the item touched.
        rows_of: what an assembly touched since.
    """
    yield from _wearings(window, rows)
    for whole in rows:
        if whole.sort == Touched.ASSEMBLY and window.meets(whole):
            within = rows_of(whole.name, whole.from_feed, whole.from_us)
            member = Window(window.cycle, whole.from_feed, whole.from_us, whole.until_feed, whole.until_us)
            for row, place in _wearings(window, within):
                if member.meets(row):
                    yield row, place


def _wearings(window: Window, rows: list[TouchRow]) -> Iterable[tuple[TouchRow, str | None]]:
    for row in rows:
        if row.sort == Touched.WEARER and window.meets(row):
            place = next((one.name for one in rows if one.sort == Touched.PLACE and one.number == row.number), None)
            yield row, place


def _use(item: str, window: Window, row: TouchRow, place: str | None) -> ExposedUse:
    return ExposedUse(
        item=item,
        cycle=window.cycle,
        whole=row.item,
        wearer=row.name,
        place=place,
        from_us=row.from_us,
        until_us=row.until_us,
    )
