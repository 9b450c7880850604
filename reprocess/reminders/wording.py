"""What a reminder says, one short sentence that names what to do, and who is told when nobody acknowledges it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from reprocess.timetable import Due

Local = Callable[[int], str]
MINUTE_S: Final = 60
HOUR_S: Final = 3600
DAY_S: Final = 86_400


@dataclass(frozen=True, slots=True)
class Saying:
    """Is one reminder's sentence and its escalation.

    Attributes:
        sentence: at most twelve words, with the reminder's words in braces.
        patience_s: after which time without an acknowledgement the role is told, once; None where nobody is.
        to_role: whom.
    """

    sentence: str
    patience_s: int | None = None
    to_role: str = "supervisor"


SAYINGS: Final[dict[str, Saying]] = {
    "rewet": Saying("Wet {item} again now, before the film dries."),
    "time-met": Saying("{step} of {item} has run its time: confirm its end."),
    "still-waits": Saying("{item} still waits: confirm the end of {step}.", 5 * MINUTE_S),
    "longest-near": Saying("{step} of {item} nears its longest time: end it soon."),
    "longest-reached": Saying("{step} of {item} reached its longest time: end it now.", 5 * MINUTE_S),
    "dry-done": Saying("Drying of {item} has run its time: look, feel, confirm.", DAY_S),
    "signal-over": Saying("{item}: the time after {signal} is over; its wearer leaves now.", 2 * MINUTE_S),
    "recurring-near": Saying("{item} is soon due for its {step}: plan it."),
    "life-near": Saying("{item} has used {percent} percent of its {limit}: order another."),
    "hold-age": Saying("Hold {hold} on {item} is {days} days old: {to} decides."),
    "shelf-over": Saying("{item} was ready too long: process it again."),
    "inspection-ahead": Saying("Inspect {item} in store by {day}."),
    "inspection-today": Saying("Inspect {item} in store today."),
    "inspection-over": Saying("{item} was not inspected in time: do it now.", 3 * DAY_S, "programme-administrator"),
    "test-due": Saying("Test {solution} before its next use, log the result.", HOUR_S),
    "solution-near": Saying("{solution} expires {at}: make another ready."),
    "solution-over": Saying("{solution} has expired: use no more of it.", HOUR_S),
    "competency-near": Saying("{name}: competency for {competency} ends {day}, renew it."),
    "verification-near": Saying("{instrument}: verification ends {day}, have it verified."),
    "verification-over": Saying("{instrument} is past its verification: use another one."),
}
"""What each reminder says, by the `say` of its words. The times are site parameters with these defaults (R01-R09)."""

PATIENCE_US: Final = min(one.patience_s for one in SAYINGS.values() if one.patience_s is not None) * 1_000_000
"""The shortest patience: nothing is escalated sooner after it rang."""

UNKNOWN: Final = Saying("Look at {subject}: something is due.")
"""What a reminder says that another release of the program left in the table."""

MARKS: Final = ("ACT NOW", "DUE", "DUE", "AHEAD")
"""How severities are called, from the gravest."""


def saying_of(due: Due) -> Saying:
    """Returns the sentence and escalation of a reminder."""
    return SAYINGS.get(str(due.words.get("say")), UNKNOWN)


def sentence(due: Due, local: Local) -> str:
    """Returns what the reminder says; instants are given as local time by `local`."""
    filled = _Words(subject=due.subject)
    for name, word in due.words.items():
        if name.endswith("_us") and isinstance(word, int):
            filled[name.removesuffix("_us")] = local(word)
        else:
            filled[name] = str(word)
    return saying_of(due).sentence.format_map(filled)


def lateness(seconds: int) -> str:
    """Returns a lateness in the largest two units: `45 s`, `2 min 5 s`, `3 h 2 min`, `2 d 4 h`."""
    for unit, name, below, less in (
        (DAY_S, "d", HOUR_S, "h"),
        (HOUR_S, "h", MINUTE_S, "min"),
        (MINUTE_S, "min", 1, "s"),
    ):
        if seconds >= unit:
            return f"{seconds // unit} {name} {seconds % unit // below} {less}"
    return f"{seconds} s"


class _Words(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return "?"
