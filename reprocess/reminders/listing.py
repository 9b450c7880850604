"""What is due and what comes, one line a cause, for a list on a screen; it rings nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.append import looking
from reprocess.ledger.dues import DueRow
from reprocess.ledger.open import Ledger
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US
from reprocess.timetable import cause_of

SILENT_S: Final = 90
"""A bell that said nothing for so long is not at work: it says so every 30 s (our choice)."""


@dataclass(frozen=True, slots=True)
class Listed:
    """Is one thing that is due or comes: the reminder that speaks of it now.

    Attributes:
        deadline_us: when the thing itself is due; later than the reminder where that comes ahead.
        overdue: whether the deadline is past.
        zone: the time zone of its site.
    """

    row: DueRow
    deadline_us: int
    overdue: bool
    zone: str


@dataclass(frozen=True, slots=True)
class Health:
    """Is whether a bell is at work: when it last looked, what it left unrung, and what waits to be delivered."""

    swept_us: int | None
    age_s: int | None
    unrung: int
    posts: int

    @property
    def alive(self) -> bool:
        """Tells whether a bell looked lately enough."""
        return self.age_s is not None and self.age_s <= SILENT_S

    @property
    def well(self) -> bool:
        """Tells whether a bell looked lately and rang everything."""
        return self.alive and not self.unrung


def health_of(ledger: Ledger, now_us: int) -> Health:
    """Returns whether a bell is at work; one that looks in the future looked before the clock was set back."""
    with looking(ledger) as read:
        swept_us = read.dues.swept_us()
        unrung = read.dues.unrung(now_us - SILENT_S * SECOND_US)
        posts = read.posts.waiting()[0]
    age_s = None if swept_us is None else max(0, now_us - swept_us) // SECOND_US
    return Health(swept_us, age_s, unrung, posts)


def coming(ledger: Ledger, now_us: int, within_s: int) -> list[Listed]:
    """Returns what is overdue, the gravest and then the oldest first, and after it what comes, the soonest first.

    Of the reminders of one cause the latest one past stands for it, or else the first one to come.
    """
    causes: dict[str, DueRow] = {}
    with looking(ledger) as read:
        for row in read.dues.coming(now_us + within_s * SECOND_US):
            cause = cause_of(row.due.key)
            if row.due.due_us <= now_us or cause not in causes:
                causes[cause] = row
        zones = {str(row.due.words.get("site")): "" for row in causes.values()}
        zones = {site: site_of(read, site).zone for site in zones}
    found = [_listed(row, now_us, zones) for row in causes.values()]
    return sorted(found, key=_order)


def _listed(row: DueRow, now_us: int, zones: dict[str, str]) -> Listed:
    at_us = row.due.words.get("at_us")
    deadline_us = at_us if isinstance(at_us, int) else row.due.due_us
    return Listed(row, deadline_us, deadline_us <= now_us, zones[str(row.due.words.get("site"))])


def _order(one: Listed) -> tuple[bool, int, int, str]:
    grave = one.row.due.severity if one.overdue else 0
    return (not one.overdue, grave, one.deadline_us, one.row.due.key)
