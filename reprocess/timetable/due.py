"""One reminder: its key, when it rings, how grave it is, and whether its clock has come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.record.moment import Elapsed, Moment, elapsed
from reprocess.terms import SECOND_US

NOW, SOON, GRAVE, AHEAD = 0, 1, 2, 3
"""Severities: act within moments; within this hour or shift; a limit is passed or near; think ahead."""

CLOCKED: Final = frozenset({"T03", "T17", "T06", "R02"})
"""Rules whose reminders follow the running clock of a dwell, so that a stepped wall clock cannot silence them."""

LEAST, GREATEST = "least", "greatest"
"""Which proven time a clocked reminder waits for: the one that counts towards a least or a greatest time."""

Words = dict[str, str | int]


@dataclass(frozen=True, slots=True)
class Due:
    """Is one reminder that a standing calls for.

    Attributes:
        key: rule, subject, cause (cycle, entry number or local date) and which of the cause's reminders, joined by
            slashes; it can be given only once, for ever.
        subject: the stream it is about.
        due_us: when it rings by the wall clock.
        severity: 0 is the gravest; missed reminders ring in this order.
        words: what the sentence needs: `say` names it, `site` is where the subject is, `at_us` is the instant the
            thing itself is due where the reminder comes earlier; of clocked ones also the clocks they count from.
    """

    key: str
    subject: str
    rule: str
    due_us: int
    severity: int
    words: Words


def key_of(rule: str, subject: str, cause: str, which: str) -> str:
    """Returns the key of a reminder, such as `T03/item:BLW-0041/17/wet-0`."""
    return f"{rule}/{subject}/{cause}/{which}"


def cause_of(key: str) -> str:
    """Returns what several reminders of one cause have in common: the key without its last word."""
    return key.rpartition("/")[0]


def is_clocked(due: Due) -> bool:
    """Tells whether the reminder follows the clock of a dwell."""
    return "counts" in due.words


def clock_words(since: Moment, span_us: int, counts: str) -> Words:
    """Returns the words of a reminder that rings when `span_us` have passed since those clock readings."""
    words: Words = {
        "counts": counts,
        "span_us": span_us,
        "wall_us": since.wall_us,
        "mono_us": since.mono_us,
        "boot": since.boot,
        "node": since.node,
    }
    if since.running_us is not None:
        words["running_us"] = since.running_us
    return words


def reached(due: Due, now: Moment) -> bool:
    """Tells whether the reminder rings by now.

    Within the boot in which its clock was started a clocked reminder follows the same proven time as the judgement
    (design section 3), so that it says "met" only when a scan would be accepted. In another boot, and for all other
    reminders, the wall clock decides.
    """
    seen = _seen(due, now)
    if seen is None:
        return due.due_us <= now.wall_us
    return _counted(due, seen) >= int(due.words["span_us"])


def late_s(due: Due, now: Moment) -> int:
    """Returns how many whole seconds ago the reminder should have rung."""
    seen = _seen(due, now)
    late_us = now.wall_us - due.due_us if seen is None else _counted(due, seen) - int(due.words["span_us"])
    return max(0, late_us // SECOND_US)


def _seen(due: Due, now: Moment) -> Elapsed | None:
    """Returns the time proven since the clock was started, or None where only the wall clock is left."""
    words = due.words
    if "counts" not in words or words["boot"] != now.boot:
        return None
    running = words.get("running_us")
    since = Moment(
        int(words["wall_us"]),
        int(words["mono_us"]),
        None if running is None else int(running),
        str(words["boot"]),
        str(words["node"]),
    )
    seen = elapsed(since, now)
    return seen if seen.same_boot else None


def _counted(due: Due, seen: Elapsed) -> int:
    return seen.least_us if due.words["counts"] == LEAST else seen.greatest_us
