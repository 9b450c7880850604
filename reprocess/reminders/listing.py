"""What is due and what comes, one line a cause, for a list on a screen; it rings nothing."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.ledger.append import looking
from reprocess.ledger.dues import DueRow
from reprocess.ledger.open import Ledger
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US
from reprocess.timetable import cause_of


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
