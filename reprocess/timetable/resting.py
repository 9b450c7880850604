"""What rests too long after its last step (T14): told to a supervisor, by the place where it rests."""

from __future__ import annotations

from typing import Final

from reprocess.record.standing import Standing
from reprocess.terms import SECOND_US, Stage, StreamKind, stream
from reprocess.timetable.due import SOON, Due, Words, key_of

HOUR_S: Final = 3600
BENCH_H: Final = 8
"""Hours that an item may wait in the middle of its cycle (our choice, a site parameter)."""
DRY_H: Final = 24
"""Hours once it is dry (our choice)."""
REPAIR_H: Final = 72
"""Hours in repair (our choice)."""


def of_rest(item: Standing) -> list[Due]:
    """Returns when an item that nobody goes on with is told, once for each stage of each cycle."""
    hours = _hours(item)
    if hours is None or item.change is None or item.dwell is not None:
        return []
    subject = stream(StreamKind.ITEM, item.item)
    words: Words = {"say": "rests", "site": item.site, "item": item.item, "stage": str(item.stage), "hours": hours}
    key = key_of("T14", subject, f"{item.cycle}-{len(item.satisfied)}", str(item.stage).replace(" ", "-"))
    return [Due(key, subject, "T14", item.change.moment.wall_us + hours * HOUR_S * SECOND_US, SOON, words)]


def _hours(item: Standing) -> int | None:
    if item.stage == Stage.IN_REPAIR:
        return REPAIR_H
    if item.stage == Stage.READY or not item.satisfied:
        return None
    return DRY_H if item.stage in (Stage.DRIED, Stage.INSPECTED) else BENCH_H
