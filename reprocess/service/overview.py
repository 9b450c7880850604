"""The floor at a glance, for every face that shows it: each item with its clock, by stage and place, the urgent first.

The reading stands here once; the board over HTTP and the board as a page show it each in its own way.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

from reprocess.gathering import Library, part_of, parts_of
from reprocess.ledger.append import Transaction
from reprocess.record.moment import Moment
from reprocess.rules.assembly import part_gates
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Part
from reprocess.service.showing import Filters, items_found, usable
from reprocess.service.who import Caller
from reprocess.terms import ASIDE, SPINE, subject_of

Shown = TypeVar("Shown")
ORDER = tuple(str(stage) for stage in (*SPINE, *ASIDE))
"""The stages in the order of the trade."""


def parts_found(read: Transaction, library: Library, who: Caller, wanted: Filters, now: Moment) -> list[Part]:
    """Returns the items that are asked for and that the caller may see, the shortest clock first."""
    seen = (part_of(read, library, one) for one in items_found(read, who, wanted))
    return sorted((part for part in seen if part is not None), key=lambda one: _urgency(one, now))


def _urgency(part: Part, now: Moment) -> tuple[int, int, str]:
    item = part.standing
    clock = clock_of(item.dwell, now) if item.dwell is not None else None
    if clock is None:
        return 1, item.since_us, item.item
    return 0, clock.rewet_s if clock.rewet_s is not None else clock.left_s, item.item


def late_items(read: Transaction, now: Moment) -> frozenset[str]:
    """Returns the items about which something is past due."""
    return frozenset(subject_of(row.due.subject) for row in read.dues.coming(now.wall_us) if _is_item(row.due.subject))


def _is_item(subject: str) -> bool:
    return subject.startswith("item:")


def by_stage_and_place(
    found: Iterable[Shown], where: Callable[[Shown], tuple[str, str | None]]
) -> list[tuple[str, str | None, list[Shown]]]:
    """Returns (stage, place, what stands there), in the order of the trade and then by place; the order within stays.

    Args:
        found: what is to be grouped.
        where: tells its stage and its place; what is no stage of the trade comes last.
    """
    kept: dict[tuple[str, str], list[Shown]] = {}
    for one in found:
        stage, place = where(one)
        kept.setdefault((stage, place or ""), []).append(one)
    keys = sorted(kept, key=lambda key: (ORDER.index(key[0]) if key[0] in ORDER else len(ORDER), *key))
    return [(stage, place or None, kept[stage, place]) for stage, place in keys]


def ready_here(read: Transaction, library: Library, found: Sequence[Part], now: Moment) -> dict[str, int]:
    """Returns how many usable ones lie at each place: neither out with somebody nor built into another one.

    A whole is usable where none of its parts is past a limit either: no date on the whole tells of a counter.
    """
    here = [one for one in found if usable(one, now) and not (one.standing.custody or one.standing.assembly)]
    known = {one.standing.item: one for one in found}
    absent = {name for one in here for name in one.standing.members.values() if name not in known}
    known |= parts_of(read, library, tuple(sorted(absent)))
    good = [one.standing for one in here if not _ended(one, known, now)]
    return dict(Counter(one.place or "" for one in good))


def _ended(whole: Part, known: Mapping[str, Part], now: Moment) -> bool:
    parts = [known.get(name) for name in whole.standing.members.values()]
    return any(one is None or bool(part_gates(one, now.wall_us)) for one in parts)
