"""From the lines of a form, as CSV or out of a station's queue, to requests; every fault with its line."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from reprocess.commandline.asking import day_ends_us, said
from reprocess.commandline.options import readable
from reprocess.definitions.model import Step
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.facts import CAUSES
from reprocess.engine.request.paper import LineWork
from reprocess.errors import ReprocessError, WrongUseError
from reprocess.record.queue import Queue, QueueLine
from reprocess.scan.code import Unreadable, read_code
from reprocess.terms import Stage, instant

COLUMNS: Final = (
    "form", "item", "did", "began", "ended", "by", "with", "in", "temp", "answers", "defects", "readings",
    "instrument", "note",
)  # fmt: skip
"""The columns of the CSV file, in this order; empty cells are allowed but for form, item, did, ended and by."""
NEEDED: Final = ("form", "item", "did", "ended", "by")
LINES_MOST: Final = 1_000
NOT_ON_PAPER: Final = ("release", "issue")
_CLOCK: Final = re.compile(r"([01]\d|2[0-3]):([0-5]\d)(?::([0-5]\d))?")


@dataclass(frozen=True, slots=True)
class Told:
    """Is one line: its number on its form, and the request that it means."""

    form: str
    line: int
    request: asking.EnterLine


@dataclass(frozen=True, slots=True)
class Fault:
    """Is why a line of the file cannot be read; `row` counts from 1, the heading included."""

    row: int
    because: str


def rows_of(text: str) -> list[dict[str, str]] | list[Fault]:
    """Returns the lines of a CSV file by column, or what is wrong with its shape."""
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except csv.Error as fault:
        return [Fault(1, f"it is no CSV: {fault}")]
    if not rows or tuple(cell.strip() for cell in rows[0]) != COLUMNS:
        return [Fault(1, f"the first line is {','.join(COLUMNS)}")]
    body = [(number, row) for number, row in enumerate(rows[1:], start=2) if any(cell.strip() for cell in row)]
    if not 0 < len(body) <= LINES_MOST:
        return [Fault(1, f"there are from 1 to {LINES_MOST} lines, not {len(body)}")]
    faults = [
        Fault(number, f"{len(row)} cells instead of {len(COLUMNS)}") for number, row in body if len(row) != len(COLUMNS)
    ]
    if faults:
        return faults
    return [
        dict(zip(COLUMNS, (cell.strip() for cell in row), strict=True)) | {"row": str(number)} for number, row in body
    ]


def told_by(
    rows: Sequence[Mapping[str, str]], department: Department, zone: str, day: str | None
) -> tuple[list[Told], list[Fault]]:
    """Returns the requests of all lines and every fault; a form's lines are counted in the order of the file.

    Args:
        rows: the lines by column.
        department: where the items are looked up.
        zone: the time zone in which a time without an offset was written down.
        day: the local date of times without one.
    """
    told: list[Told] = []
    faults: list[Fault] = []
    counted: dict[str, int] = {}
    for row in rows:
        try:
            missing = [name for name in NEEDED if not row[name]]
            if missing:
                message = f"{', '.join(missing)} is empty."
                raise WrongUseError(message)
            form = readable(row["form"])
            counted[form] = counted.get(form, 0) + 1
            told.append(Told(form, counted[form], _request(row, form, counted[form], department, zone, day)))
        except ReprocessError as fault:
            faults.append(Fault(int(row["row"]), fault.sentence))
    return told, faults


def _request(
    row: Mapping[str, str], form: str, line: int, department: Department, zone: str, day: str | None
) -> asking.EnterLine:
    ended_us = _instant(row["ended"], zone, day)
    began_us = _instant(row["began"], zone, day) if row["began"] else None
    with_ = readable(row["with"]) if row["with"] else None
    work = _work(row, department, zone)
    return asking.EnterLine(form, line, work, readable(row["by"]), ended_us, began_us, with_)


def _instant(text: str, zone: str, day: str | None) -> int:
    """Returns the instant that a time on a form means: with its offset, or local time on the form's day.

    Raises:
        WrongUseError: it is no time, its day is missing, or the clocks were changed then and it means two or none.
    """
    clock = _CLOCK.fullmatch(text)
    if clock is not None and day is None:
        message = f"{text} needs its day: --day 2026-03-05."
        raise WrongUseError(message)
    try:
        when = datetime.fromisoformat(f"{day}T{text}" if clock is not None else text)
    except ValueError as fault:
        message = f"A time is 14:05, or 2026-03-05T14:05:00+00:00, not {text[:40]!r}."
        raise WrongUseError(message) from fault
    if when.tzinfo is not None:
        return instant(when)
    local = when.replace(tzinfo=ZoneInfo(zone))
    if local.utcoffset() != local.replace(fold=1).utcoffset():
        message = f"The clocks were changed at {text}; write it with its offset, 2026-03-05T14:05:00+00:00."
        raise WrongUseError(message)
    return instant(local)


def _work(row: Mapping[str, str], department: Department, zone: str) -> LineWork:
    item, did = readable(row["item"]), row["did"]
    note, pairs = said(row["note"] or None), _pairs(row["readings"])
    if did in NOT_ON_PAPER:
        return asking.OffLimits(item, did)
    if did in CAUSES:
        return asking.Contaminate(item, did, note=note)
    if did == "tested":
        return _test(item, row["answers"], pairs, zone)
    if row["defects"]:
        return asking.FailStep(item, did, tuple(row["defects"].split()))
    step = _step(department, item, did)
    if step is not None and step.reaches is Stage.READY:
        return asking.OffLimits(item, did)
    checks = _checks(row["answers"], step)
    instrument = readable(row["instrument"]) if row["instrument"] else None
    counted = {one.count for one in step.counts} if step is not None else set()
    readings = {name: value for name, value in pairs.items() if name not in counted}
    if step is not None and step.dwell is not None:
        solution = readable(row["in"]) if row["in"] else None
        return asking.EndDwell(
            item, did, row["temp"] or None, checks, readings, solution=solution, instrument=instrument
        )
    counts = {name: _count(name, value) for name, value in pairs.items() if name in counted}
    return asking.DoStep(item, did, checks, readings, counts, instrument, note)


def _step(department: Department, item: str, did: str) -> Step | None:
    part = department.part(item)
    step = part.workflow.step_named(did) if part is not None else None
    if part is not None and step is None:
        known = ", ".join(one.step for one in part.workflow.steps)
        message = f"{did} is no step of {item}; its steps are {known}."
        raise WrongUseError(message)
    return step


def _checks(answers: str, step: Step | None) -> dict[str, bool]:
    """Returns the answers: `good` for every line of the checklist, a line's name after `no:` for one that is not."""
    checks: dict[str, bool] = {}
    for word in answers.split():
        if word == "good":
            checks = {**({one.check: True for one in step.checks} if step is not None else {}), **checks}
        elif word.startswith("no:"):
            checks[word.removeprefix("no:")] = False
        else:
            message = f"An answer is good, or no: and the line's name, not {word[:40]!r}."
            raise WrongUseError(message)
    return checks


def _pairs(text: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for word in text.split():
        name, sign, value = word.partition("=")
        if not sign or not name or name in found:
            message = f"A reading is name=value, each once, not {word[:40]!r}."
            raise WrongUseError(message)
        found[name] = value
    return found


def _count(name: str, value: str) -> int:
    if not (value.isascii() and value.isdigit() and len(value) <= 4):
        message = f"The count {name} is a whole number from 0 to 9999, not {value[:20]!r}."
        raise WrongUseError(message)
    return int(value)


def _test(solution: str, answers: str, pairs: dict[str, str], zone: str) -> asking.TestSolution:
    if "strips" not in pairs or "until" not in pairs:
        message = "A strip test names its strips and their last day: strips=S-1 until=2026-12-31."
        raise WrongUseError(message)
    after = pairs.get("after")
    return asking.TestSolution(
        solution,
        pairs["strips"],
        day_ends_us(pairs["until"], zone),
        reading=pairs.get("reading"),
        passed={"passed": True, "failed": False}.get(answers),
        read_after_s=_count("after", after) if after is not None else None,
    )


def digest_of(told: Sequence[Told]) -> str:
    """Returns a digest of the lines of one form, by which the same form is known again."""
    return hashlib.sha256("\n".join(repr(one.request) for one in told).encode()).hexdigest()


def rows_of_queue(queue: Queue) -> list[dict[str, str]]:
    """Returns the scans of a queue as lines of one form; a start and its end become one line.

    The length of a pair is the smaller of what the station's two clocks say, within one boot; a wetting in between
    is not shown, so that a film that had to be wetted again does not count. Where it was said after the end that the
    film had dried, the pair is none (E31); where a break names nothing that was started, all contacts of that step that
    run are none.
    """
    rows: list[dict[str, str]] = []
    started, ended = dict[tuple[str, str], QueueLine](), dict[tuple[str, str], int]()
    for line in queue.lines:
        did, _, action = line.words.get("did", "").partition(" ")
        item = _meant(line.words.get("item", ""))
        if action == "start":
            started[item, did] = line
            continue
        if action in ("rewet", "dried", "removed", "rinsed", "moved", "opened"):
            if action != "rewet":
                _broken((item, did), started, ended, rows)
            continue
        begun = started.pop((item, did), None) if action == "done" else None
        ended[item, did] = len(rows)
        rows.append(_row(queue, line, did, begun))
    return rows


def _broken(
    key: tuple[str, str],
    started: dict[tuple[str, str], QueueLine],
    ended: Mapping[tuple[str, str], int],
    rows: list[dict[str, str]],
) -> None:
    """Takes away the beginning of the contact of an item (key: item, step) that was broken."""
    if key in started:
        del started[key]
    elif key in ended:
        rows[ended[key]]["began"] = ""
    else:
        for other in [one for one in started if one[1] == key[1]]:
            del started[other]


def _meant(text: str) -> str:
    """Returns the id that a text means, however it was spelt; one that cannot be read stays, and is told later."""
    code = read_code(text)
    return text if isinstance(code, Unreadable) else code.id


def _row(queue: Queue, line: QueueLine, did: str, begun: QueueLine | None) -> dict[str, str]:
    words = dict(line.words)
    began = ""
    if begun is not None and begun.boot == line.boot:
        lasted_us = min(line.at_us - begun.at_us, line.mono_us - begun.mono_us)
        began = _text(line.at_us - max(0, lasted_us))
        words = {**begun.words, **words}
    told = {
        name: words.get(name, "")
        for name in ("item", "in", "temp", "answers", "defects", "readings", "instrument", "note")
    }
    who = {"by": line.badge, "with": line.second or ""}
    return {
        "form": queue.queue,
        "did": did,
        "began": began,
        "ended": _text(line.at_us),
        "row": str(line.number + 1),
        **told,
        **who,
    }


def _text(at_us: int) -> str:
    from reprocess.terms import as_datetime

    return as_datetime(at_us).isoformat()


def in_time_order(told: Sequence[Told]) -> list[Told]:
    """Returns the lines in the order in which they began; lines of the same instant stay as they were written."""
    return sorted(
        told, key=lambda one: one.request.began_us if one.request.began_us is not None else one.request.ended_us
    )


__all__ = ["Fault", "Told", "digest_of", "in_time_order", "rows_of", "rows_of_queue", "told_by"]
