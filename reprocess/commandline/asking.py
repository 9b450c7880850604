"""From the words of `reprocess log` to a request."""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from reprocess.commandline.identifying import request_about
from reprocess.commandline.options import readable
from reprocess.definitions.model import Step, Workflow
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.dwells import BREAK_CAUSES
from reprocess.engine.facts import CAUSES
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.founding import day_us
from reprocess.rules.asked import Late
from reprocess.terms import DAY_S, SECOND_US, Stage, instant

TRACE_ROWS_MAX = 200_000
WORDS_MAX = 300
"""Longest free text that one entry keeps (our choice)."""
DIGITS_MAX = 6


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    item: str
    what: str
    action: str | None
    solution: str | None
    temp: str | None
    good: bool
    yes: tuple[str, ...]
    no: tuple[str, ...]
    readings: dict[str, str]
    counts: dict[str, int]
    instrument: str | None
    defects: tuple[str, ...]
    trace: Path | None
    undisturbed: bool
    why: str | None
    contamination_class: str
    ended: str | None
    happened: str | None
    began: str | None
    paper: str | None
    lot: str | None = None
    water: str | None = None
    statement: str | None = None
    waste: str | None = None
    test: str | None = None
    returned_by: str | None = None
    parts: dict[str, str] = field(default_factory=dict)


def request_from(given: Given, department: Department) -> Request:
    """Returns the request that the words mean.

    Raises:
        WrongUseError: they mean nothing, or a time has no offset.
    """
    plain = _fact(given)
    if plain is not None:
        return plain
    step = _step(given, department)
    if given.defects:
        return asking.FailStep(given.item, given.what, given.defects)
    checks = _checks(given, step)
    if step is not None and step.reaches is Stage.READY:
        return asking.Release(given.item, checks, given.counts, said(given.why))
    if step is not None and step.dwell is not None:
        return _dwell(given, checks)
    if given.action not in (None, "done"):
        message = f"{given.what} has no clock; it is only logged as done."
        raise WrongUseError(message)
    return asking.DoStep(
        given.item,
        given.what,
        checks,
        given.readings,
        given.counts,
        given.instrument,
        said(given.why),
        _late(given),
        lot=given.lot,
        water=given.water,
    )


def _fact(given: Given) -> Request | None:
    """Returns the request of a fact or of a change of the record, or None when the words name a step."""
    note = said(given.why)
    match given.what:
        case cause if cause in CAUSES:
            ended = at_instant(given.ended) if given.ended is not None else None
            return asking.Contaminate(given.item, cause, given.contamination_class, ended, note)
        case "repair" | "lost":
            return asking.SetAside(given.item, given.what, note or "not said", said(given.statement))
        case "repaired":
            return _repaired(given, note)
        case "condemn":
            return asking.Condemn(given.item, note or "not said", given.defects, given.waste)
        case "method":
            if given.action is None:
                message = "Say which method was used, such as `method immerse`."
                raise WrongUseError(message)
            return asking.ReportMethod(given.item, given.action)
        case "undo":
            return asking.Undo(given.item)
        case "correct":
            return _correction(given, note)
        case _:
            return _note(given, note)


def _note(given: Given, note: str | None) -> Request | None:
    """Returns the request of a small fact of the item's life, or None when the words name a step."""
    match given.what:
        case "unsealed":
            return asking.NoteItem(given.item, opened=True)
        case "charged":
            return asking.NoteItem(given.item, charge_cycles=_number(given, "charges"))
        case "worn":
            return asking.NoteItem(given.item, minutes=_number(given, "minutes"))
        case "moved-to":
            if given.action is None or len(given.counts) != 1:
                message = "Say into which batch and how many, such as `moved-to GSK-A2 --count parts=4`."
                raise WrongUseError(message)
            return asking.MoveCounted(given.item, readable(given.action), next(iter(given.counts.values())))
        case "store-check":
            found = note or "nothing found"
            return asking.NoteItem(given.item, findings=found, action=given.action, passed=not given.defects)
        case _:
            return request_about(given.item, given.what, given.action, note)


def _repaired(given: Given, note: str | None) -> Request:
    """Returns the request of a repair that is done; a defect named with it says that it is not good."""
    if note is None or given.test is None or given.returned_by is None:
        message = "A repair that is done says the work (--why), the test (--test) and who brought it (--by)."
        raise WrongUseError(message)
    test, by = said(given.test) or "", said(given.returned_by) or ""
    return asking.FinishRepair(given.item, note, test, not given.defects, by, given.parts)


def _number(given: Given, what: str) -> int:
    text = given.action or ""
    if not (text.isascii() and text.isdigit() and len(text) <= DIGITS_MAX and int(text) > 0):
        message = f"Say how many {what}, as a whole number, such as `{given.what} 1`."
        raise WrongUseError(message)
    return int(text)


def _correction(given: Given, note: str | None) -> Request:
    if note is None:
        message = "A correction needs its reason: --why."
        raise WrongUseError(message)
    checks = dict.fromkeys(given.yes, True) | dict.fromkeys(given.no, False)
    number = _number(given, "as the entry's number in the item's history")
    return asking.Correct(given.item, number, note, checks, given.readings, given.counts)


def said(text: str | None) -> str | None:
    """Returns free text as one line of printable characters.

    Raises:
        WrongUseError: it is too long or holds control characters.
    """
    if text is None:
        return None
    if len(text) > WORDS_MAX or not text.isprintable() or not text.strip():
        message = f"Words are one printable line of at most {WORDS_MAX} characters."
        raise WrongUseError(message)
    return text.strip()


def _step(given: Given, department: Department) -> Step | None:
    part = department.part(given.item)
    if part is None:
        return None
    workflow: Workflow = part.workflow
    step = workflow.step_named(given.what)
    if step is None and not any(never.method == given.what for never in workflow.never):
        known = ", ".join(one.step for one in workflow.steps)
        if given.what in {"start", "rewet", "done", *BREAK_CAUSES}:
            message = f"Name the step first, such as `log {given.item} disinfect {given.what}`."
            raise WrongUseError(message)
        message = f"{given.what} is no step of {given.item}; its steps are {known}."
        raise WrongUseError(message)
    return step


def _checks(given: Given, step: Step | None) -> dict[str, bool]:
    checks = {one.check: True for one in step.checks} if given.good and step is not None else {}
    both = set(given.yes) & set(given.no)
    if both:
        message = f"{', '.join(sorted(both))} cannot be both good and not good."
        raise WrongUseError(message)
    checks |= dict.fromkeys(given.yes, True)
    checks |= dict.fromkeys(given.no, False)
    return checks


def _dwell(given: Given, checks: dict[str, bool]) -> Request:
    match given.action:
        case "start":
            return asking.StartDwell(given.item, given.what, given.solution, None, given.temp, given.instrument)
        case "rewet":
            return asking.Rewet(given.item)
        case "done":
            return asking.EndDwell(
                given.item,
                given.what,
                given.temp,
                checks,
                given.readings,
                given.undisturbed,
                _trace(given.trace),
                _late(given),
                instrument=given.instrument,
            )
        case cause if cause in BREAK_CAUSES:
            return asking.BreakDwell(given.item, cause)
        case None:
            message = f"{given.what} runs on a clock: say start, rewet, dried or done."
            raise WrongUseError(message)
        case _:
            message = f"{given.what} knows start, rewet, {', '.join(BREAK_CAUSES)} and done, not {given.action}."
            raise WrongUseError(message)


def _trace(path: Path | None) -> tuple[tuple[str, str], ...]:
    if path is None:
        return ()
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = [row for _, row in zip(range(TRACE_ROWS_MAX + 1), csv.reader(file), strict=False)]
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        message = f"{path} cannot be read as CSV: {fault}."
        raise WrongUseError(message) from fault
    if len(rows) > TRACE_ROWS_MAX or any(len(row) != 2 for row in rows):
        message = f"{path.name} holds lines of seconds,degC and at most {TRACE_ROWS_MAX} of them."
        raise WrongUseError(message)
    return tuple((row[0].strip(), row[1].strip()) for row in rows)


def _late(given: Given) -> Late | None:
    if given.happened is None:
        return None
    if given.paper is None:
        message = "A late entry names its paper form: --paper."
        raise WrongUseError(message)
    began = at_instant(given.began) if given.began is not None else None
    return Late(at_instant(given.happened), given.paper, began)


def day_begins_us(day: str, zone: str) -> int:
    """Returns the instant at which a local day begins.

    Raises:
        WrongUseError: the text is not a date such as 2026-12-31.
    """
    try:
        return day_us(day, zone)
    except ValueError as fault:
        message = f"A day is written 2026-12-31, not {day[:20]!r}."
        raise WrongUseError(message) from fault


def day_ends_us(day: str, zone: str) -> int:
    """Returns the instant at which a local day is over.

    Raises:
        WrongUseError: the text is not a date such as 2026-12-31.
    """
    return day_begins_us(day, zone) + DAY_S * SECOND_US


def at_instant(text: str) -> int:
    """Returns an RFC 3339 time as an instant.

    Raises:
        WrongUseError: it is not a time, or it has no offset from UTC.
    """
    try:
        return instant(datetime.fromisoformat(text))
    except ValueError as fault:
        message = f"A time is written 2026-03-05T07:05:00+00:00, with its offset, not {text[:40]!r}."
        raise WrongUseError(message) from fault
