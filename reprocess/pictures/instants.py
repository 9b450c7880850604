"""Instants as local text, lengths of time, and the marks of a time line.

The axis of a time line counts whole microseconds from its start, and its marks are worked out here in the site's zone.
The charting library never sees a date, so neither its own time zone nor the month names of its language matter; an
hour that a clock change repeats is drawn twice as long as it looks on the clock, as it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from reprocess.gathering import local
from reprocess.terms import DAY_S, SECOND_US, instant

TICKS_MOST: Final = 8
MINUTE_S: Final = 60
HOUR_S: Final = 3600
_STEPS_S: Final = (
    *(minutes * MINUTE_S for minutes in (1, 2, 5, 10, 15, 30)),
    *(hours * HOUR_S for hours in (1, 2, 3, 6, 12)),
    *(days * DAY_S for days in (1, 2, 7, 14, 28, 56, 112, 364, 1820)),
)
"""Steps between two marks; each divides a day, or is whole days."""


@dataclass(frozen=True, slots=True)
class Tick:
    """Is one mark of a time line and the lines of its label: the time of day, and the day where it is a new one."""

    at_us: int
    label: tuple[str, ...]


def length(from_us: int, until_us: int) -> str:
    """Returns how long it is from one instant to another, as `H:MM:SS`; whole seconds, rounded down."""
    seconds = max(0, until_us - from_us) // SECOND_US
    return f"{seconds // HOUR_S}:{seconds // MINUTE_S % 60:02d}:{seconds % MINUTE_S:02d}"


def ticks(zone: str, from_us: int, until_us: int) -> tuple[Tick, ...]:
    """Returns the marks within `[from_us, until_us]`, at most eight: full minutes, hours or days of the local clock."""
    step_s = next((one for one in _STEPS_S if (until_us - from_us) // SECOND_US // one < TICKS_MOST), _STEPS_S[-1])
    found: list[Tick] = []
    day = ""
    for when in _walls(zone, from_us, until_us, step_s):
        at_us = instant(when)
        if not from_us <= at_us <= until_us or len(found) == TICKS_MOST:
            continue
        date = when.strftime("%Y-%m-%d")
        lines = (date,) if step_s >= DAY_S else (when.strftime("%H:%M"), *((date,) if date != day else ()))
        found.append(Tick(at_us, lines))
        day = date
    return tuple(found)


def _walls(zone: str, from_us: int, until_us: int, step_s: int) -> Iterator[datetime]:
    """Yields the round times of the local clock from the day of one instant to that of another, in their order."""
    every_days = max(1, step_s // DAY_S)
    first, last = local(zone, from_us).date(), local(zone, until_us).date()
    start = first.toordinal() // every_days * every_days
    for ordinal in range(start, last.toordinal() + 1, every_days):
        midnight = datetime.combine(first + timedelta(days=ordinal - first.toordinal()), time())
        walls = [midnight + timedelta(seconds=second) for second in range(0, DAY_S, min(step_s, DAY_S))]
        for at_us in sorted({found for wall in walls for found in _instants(zone, wall)}):
            yield local(zone, at_us)


def _instants(zone: str, wall: datetime) -> Iterator[int]:
    """Yields when the local clock showed a time: once, twice, or never where a clock change skipped it."""
    for fold in (0, 1):
        here = wall.replace(tzinfo=ZoneInfo(zone), fold=fold).astimezone(UTC)
        if here.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == wall:
            yield instant(here)
