"""What an answer to a trace question is made of: what was touched, who wore it, and the cycles between two wearers."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from reprocess.lookback.exposure import RowsOf, Window, worn
from reprocess.record.touching import Touched, TouchRow

EVER = Window(0, 0, 0)
"""The window that leaves nothing out."""


@dataclass(frozen=True, slots=True)
class Passed:
    """Is one cycle that an item went through between two wearings.

    `valid` says that nothing is on record that puts the cycle in doubt.
    """

    cycle: int
    released_us: int
    valid: bool


@dataclass(frozen=True, slots=True)
class Wearing:
    """Is one time that an item was with a wearer, as part of an assembly or alone.

    Attributes:
        item: the item asked about.
        whole: what was issued: the assembly, or the item itself.
        cycle: the cycle in which the item was.
        wearer: a pseudonym.
        between: the cycles since the wearing before; empty for the first one on record.
        first: whether nobody wore it before, as far as the record goes.
    """

    item: str
    whole: str
    cycle: int
    wearer: str
    place: str | None
    from_us: int
    from_feed: int
    until_us: int | None
    until_feed: int | None
    between: tuple[Passed, ...] = ()
    first: bool = False

    @property
    def reprocessed(self) -> bool:
        """Tells whether a full valid cycle lies between the wearing before and this one, or nobody wore it before."""
        return self.first or any(one.valid for one in self.between)


def wearings(
    item: str, rows: list[TouchRow], rows_of: RowsOf, doubted: Collection[tuple[str, int]] = ()
) -> list[Wearing]:
    """Returns every wearing of an item, oldest first, with the cycles between them.

    Args:
        item: the item.
        rows: everything that it touched, oldest first.
        rows_of: what an assembly touched since.
        doubted: the items and cycles that an exposure case names.
    """
    met = {(row.item, row.number): (row, place) for row, place in worn(EVER, rows, rows_of)}
    found: list[Wearing] = []
    for row, place in sorted(met.values(), key=lambda one: one[0].from_feed):
        before = found[-1] if found else None
        cycle = _cycle_at(rows, row.from_feed)
        found.append(
            Wearing(
                item,
                row.item,
                cycle,
                row.name,
                place,
                row.from_us,
                row.from_feed,
                row.until_us,
                row.until_feed,
                tuple(_between(item, rows, before, row, doubted)),
                first=before is None,
            )
        )
    return found


def _cycle_at(rows: Iterable[TouchRow], feed: int) -> int:
    return max((row.cycle for row in rows if row.sort == Touched.WORKFLOW and row.from_feed <= feed), default=0)


def _between(
    item: str, rows: Iterable[TouchRow], before: Wearing | None, row: TouchRow, doubted: Collection[tuple[str, int]]
) -> Iterable[Passed]:
    if before is None:
        return
    latest: dict[int, TouchRow] = {}
    for one in rows:
        if one.sort == Touched.RELEASED and one.cycle > before.cycle and one.from_feed <= row.from_feed:
            latest[one.cycle] = one
    for cycle, one in latest.items():
        yield Passed(cycle, one.from_us, (item, cycle) not in doubted)


def within(found: list[Wearing], from_us: int, until_us: int) -> list[Wearing]:
    """Returns the wearings that overlap `[from_us, until_us]`, both ends included, and the first one after them."""
    asked = [one for one in found if one.from_us <= until_us and (one.until_us is None or one.until_us >= from_us)]
    after = [one for one in found if one.from_us > until_us]
    return [*asked, *after[:1]]


@dataclass(frozen=True, slots=True)
class Touching:
    """Is one item that touched what is asked about, and where the item stood at the instant of the answer."""

    item: str
    cycle: int
    step: str | None
    from_us: int
    until_us: int | None
    stage: str
    now_cycle: int
    holds: tuple[str, ...]
    custody: str
    place: str


@dataclass(frozen=True, slots=True)
class Lookback:
    """Is the answer to one trace question.

    Attributes:
        sort: what was asked about: item, case, wearer, or one of the things that items touch.
        as_of_us: the instant at which the answer held, or None for now.
        as_of_feed: the last entry that counts.
        touched: the items that touched it, by item; empty where an item or a case was asked about.
        uses: who wore what rests on it; of an item, who wore it and the next wearer after.
    """

    sort: str
    name: str
    from_us: int | None
    until_us: int | None
    as_of_us: int | None
    as_of_feed: int
    touched: tuple[Touching, ...]
    uses: tuple[Wearing, ...]

    @property
    def wearers(self) -> tuple[str, ...]:
        """Returns the pseudonyms of everybody concerned, each once."""
        return tuple(sorted({use.wearer for use in self.uses}))

    @property
    def items(self) -> tuple[str, ...]:
        """Returns every item concerned, each once."""
        return tuple(sorted({one.item for one in self.touched} | {one.item for one in self.uses}))
