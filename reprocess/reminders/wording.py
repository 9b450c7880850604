"""What a reminder says, one short sentence that names what to do; whom it is for stands in `timetable.chains`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from reprocess.timetable import Due

Local = Callable[[int], str]
MINUTE_S: Final = 60
HOUR_S: Final = 3600
DAY_S: Final = 86_400


SAYINGS: Final[dict[str, str]] = {
    "rewet": "Wet {item} again now, before the film dries.",
    "time-met": "{step} of {item} has run its time: confirm its end.",
    "still-waits": "{item} still waits: confirm the end of {step}.",
    "longest-near": "{step} of {item} nears its longest time: end it soon.",
    "longest-reached": "{step} of {item} reached its longest time: end it now.",
    "dry-done": "Drying of {item} has run its time: look, feel, confirm.",
    "rests": "{item} has been {stage} for {hours} h: go on with it.",
    "relabel": "{item} has no readable label: print its tag, put it on.",
    "signal-over": "{item}: the time after {signal} is over; its wearer leaves now.",
    "recurring-near": "{item} is soon due for its {step}: plan it.",
    "life-near": "{item} has used {percent} percent of its {limit}: order another.",
    "hold-age": "Hold {hold} on {item} is {days} days old: {to} decides.",
    "hold-weekly": "Hold {hold} on {item} is {days} days old: settle it.",
    "quarantine": "{item} failed: put it in quarantine, scan its place.",
    "recall-open": "Recall {recall} is open since {age}: find what is missing.",
    "case-undecided": "Exposure case {case}: decide who is told.",
    "case-report": "Case {case}: risk management decides by {day} whether to report.",
    "case-report-last": "Case {case}: today is the last day to report it.",
    "load-ends": "{load} in {machine} ends about now: log its end.",
    "load-overdue": "{load} in {machine} has not ended in time: look at it.",
    "load-awaits": "{load} awaits its record or indicator: fetch it.",
    "load-unload": "{load} waits in {machine}: scan its {items} items out.",
    "load-recount": "{load} was not counted right: two people count it again.",
    "load-astray": "{load} failed: find and bring back {items}.",
    "shelf-over": "{item} was ready too long: process it again.",
    "inspection-ahead": "Inspect {item} in store by {day}.",
    "inspection-today": "Inspect {item} in store today.",
    "inspection-over": "{item} was not inspected in time: do it now.",
    "test-due": "Test {solution} before its next use, log the result.",
    "solution-near": "{solution} expires {at}: make another ready.",
    "solution-over": "{solution} has expired: use no more of it.",
    "competency-near": "{name}: competency for {competency} ends {day}, renew it.",
    "evaluation-near": "The programme at {place} is evaluated by {day}: plan it.",
    "evaluation-over": "The programme at {place} was not evaluated in time: do it.",
    "review-waits": "{waiting} entries of {place} wait for a supervisor's review.",
    "review-near": "{file} is reviewed by {day}: plan it.",
    "review-over": "{file} was not reviewed in time: review and approve it.",
    "identify": "Somebody at {place} has {item}: find out who by {at}.",
    "identify-over": "Nobody knows yet who has {item} at {place}: ask now.",
    "look-in-use": "{item} at {place}: look at airflow and battery now.",
    "not-returned": "{item} at {place} is overdue: have it brought back.",
    "missing": "{item}, last at {place}, counts as missing: search, log it lost.",
    "not-received": "{item} did not arrive at {place}: ask where it is.",
    "held-outside": "{item} at {place} is held: finish safely, leave, return it.",
    "stock-low": "{product}: {left} {unit} left: order more.",
    "lot-near": "Lot {lot} of {product} expires {at}: use it first.",
    "lot-over": "Lot {lot} of {product} has expired: discard what is left.",
    "below-par": "{place} holds {have} of {par} ready: bring more.",
    "restock": "Fill {place} up again: {because}.",
    "place-out": "{place}: {reading} outside {limit} for an hour: read, recheck.",
    "top-up-near": "{item} is to be topped up by {at}.",
    "top-up-due": "{item} lay idle for a month: top up its charge.",
    "verification-near": "{instrument}: verification ends {day}, have it verified.",
    "verification-over": "{instrument} is past its verification: use another one.",
}
"""What each reminder says, by the `say` of its words: at most twelve words, with the reminder's words in braces."""

UNKNOWN: Final = "Look at {subject}: something is due."
"""What a reminder says that another release of the program left in the table."""

MARKS: Final = ("ACT NOW", "DUE", "DUE", "AHEAD")
"""How severities are called, from the gravest."""


def sentence(due: Due, local: Local) -> str:
    """Returns what the reminder says; instants are given as local time by `local`."""
    filled = _Words(subject=due.subject)
    for name, word in due.words.items():
        if name.endswith("_us") and isinstance(word, int):
            filled[name.removesuffix("_us")] = local(word)
        else:
            filled[name] = str(word)
    return SAYINGS.get(str(due.words.get("say")), UNKNOWN).format_map(filled)


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
