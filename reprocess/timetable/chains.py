"""Who is told of a reminder first, who when nobody acknowledges it, and after how long: one table.

A level is reached by silence alone: a reminder that somebody acknowledged, or whose cause is settled, goes no further.
The times are site parameters with these defaults; where no source stands beside one it is our choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.terms import DAY_S
from reprocess.timetable.due import Due

MINUTE_S: Final = 60
HOUR_S: Final = 3600


@dataclass(frozen=True, slots=True)
class Level:
    """Is one level of a chain: which role is told when nobody acknowledged, so long after the reminder rang."""

    to_role: str
    after_s: int


@dataclass(frozen=True, slots=True)
class Chain:
    """Is who is told of one sort of reminder.

    Attributes:
        reminder: the reminder's number in the catalogue, R01 to R12.
        first: the role that is told when it rings.
        levels: who is told after that, the soonest first.
    """

    reminder: str
    first: str
    levels: tuple[Level, ...] = ()


CHAINS: Final[dict[str, Chain]] = {
    "rewet": Chain("R01", "technician"),
    "time-met": Chain("R01", "technician"),
    "still-waits": Chain("R01", "technician", (Level("supervisor", 5 * MINUTE_S),)),
    "longest-near": Chain("R01", "technician"),
    "longest-reached": Chain("R01", "technician", (Level("supervisor", 5 * MINUTE_S),)),
    "dry-done": Chain("R02", "technician", (Level("supervisor", DAY_S),)),
    "rests": Chain("R02", "supervisor"),
    "relabel": Chain("E20", "technician", (Level("supervisor", DAY_S),)),
    "test-due": Chain("R03", "technician", (Level("supervisor", HOUR_S),)),
    "solution-near": Chain("R03", "technician"),
    "solution-over": Chain("R03", "technician", (Level("supervisor", HOUR_S),)),
    "inspection-ahead": Chain("R04", "technician"),
    "inspection-today": Chain("R04", "technician"),
    "inspection-over": Chain(
        "R04", "technician", (Level("programme-administrator", 3 * DAY_S), Level("quality", 7 * DAY_S))
    ),
    "shelf-over": Chain("R04", "technician", (Level("supervisor", DAY_S),)),
    "recurring-near": Chain("R05", "technician"),
    "load-ends": Chain("R02", "technician"),
    "load-overdue": Chain("R02", "technician", (Level("supervisor", 30 * MINUTE_S),)),
    "load-awaits": Chain("R02", "technician", (Level("supervisor", HOUR_S),)),
    "load-unload": Chain("R02", "technician", (Level("supervisor", HOUR_S),)),
    "load-recount": Chain("R09", "supervisor"),
    "load-astray": Chain("R09", "supervisor", (Level("programme-administrator", 15 * MINUTE_S),)),
    "review-waits": Chain("D14", "supervisor", (Level("programme-administrator", DAY_S),)),
    "competency-near": Chain("R07", "supervisor", (Level("programme-administrator", 7 * DAY_S),)),
    "not-returned": Chain("R06", "unit-coordinator", (Level("programme-administrator", 4 * HOUR_S),)),
    "missing": Chain("R06", "unit-coordinator", (Level("programme-administrator", HOUR_S),)),
    "not-received": Chain("R06", "unit-coordinator", (Level("supervisor", 4 * HOUR_S),)),
    "identify": Chain("R06", "unit-coordinator"),
    "identify-over": Chain("R06", "unit-coordinator", (Level("programme-administrator", HOUR_S),)),
    "look-in-use": Chain("R11", "unit-coordinator"),
    "held-outside": Chain("R11", "unit-coordinator", (Level("supervisor", 15 * MINUTE_S),)),
    "life-near": Chain("R08", "supply", (Level("supervisor", 7 * DAY_S),)),
    "hold-age": Chain("R09", "owner"),
    "hold-weekly": Chain("R09", "quality"),
    "quarantine": Chain("R09", "technician", (Level("supervisor", 15 * MINUTE_S),)),
    "recall-open": Chain("R09", "programme-administrator", (Level("quality", DAY_S),)),
    "case-undecided": Chain("R09", "infection-prevention", (Level("occupational-health", DAY_S),)),
    "case-report": Chain("R12", "risk-management"),
    "case-report-last": Chain("R12", "risk-management", (Level("quality", 4 * HOUR_S),)),
    "signal-over": Chain("R11", "unit-coordinator", (Level("supervisor", 2 * MINUTE_S),)),
    "stock-low": Chain("R08", "supply", (Level("supervisor", DAY_S),)),
    "lot-near": Chain("R08", "supply"),
    "lot-over": Chain("R03", "technician", (Level("supervisor", DAY_S),)),
    "below-par": Chain("R10", "technician", (Level("supervisor", 4 * HOUR_S),)),
    "restock": Chain("R10", "technician", (Level("supervisor", 4 * HOUR_S),)),
    "place-out": Chain("R03", "technician", (Level("supervisor", HOUR_S),)),
    "top-up-near": Chain("R05", "technician"),
    "top-up-due": Chain("R05", "technician", (Level("supervisor", DAY_S),)),
    "verification-near": Chain("R12", "supervisor"),
    "verification-over": Chain("R12", "supervisor", (Level("programme-administrator", DAY_S),)),
    "evaluation-near": Chain("R12", "programme-administrator"),
    "evaluation-over": Chain("R12", "programme-administrator", (Level("quality", 30 * DAY_S),)),
    "review-near": Chain("R12", "programme-administrator"),
    "review-over": Chain("R12", "programme-administrator", (Level("quality", 30 * DAY_S),)),
}
"""The chain of each reminder, by the `say` of its words."""

UNKNOWN: Final = Chain("", "technician")
"""The chain of a reminder that another release of the program left in the table."""

LEVELS_MAX: Final = max(len(one.levels) for one in CHAINS.values())
"""The most levels that any chain has."""

PATIENCE_US: Final = min(level.after_s for one in CHAINS.values() for level in one.levels) * 1_000_000
"""The shortest patience of all: nothing is escalated sooner after it rang."""

ESCALATING: Final = tuple(sorted(say for say, one in CHAINS.items() if one.levels))
"""The reminders that go further when nobody acknowledges them."""


def chain_of(due: Due) -> Chain:
    """Returns the chain of a reminder."""
    return CHAINS.get(str(due.words.get("say")), UNKNOWN)


def first_role(due: Due) -> str:
    """Returns whom a reminder is for when it rings: whom its own words name, or the first of its chain."""
    named = due.words.get("to")
    return str(named) if named else chain_of(due).first
