"""What is missing before a sentence can be asked: one thing at a time, as one scan or one number brings it.

It is found by a rehearsal, so that the record decides and nothing is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reprocess.definitions.model import Step
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.ledger.append import looking
from reprocess.rules.answer import Answer, Reason, Verdict
from reprocess.rules.permissions import PERMISSIONS
from reprocess.service import scanning
from reprocess.service.rehearsing import ASKS
from reprocess.service.scanning import Scan, Value
from reprocess.service.seeing import may_not
from reprocess.service.served import Served
from reprocess.service.taking_scans import Given, Outcome, Understood
from reprocess.station import Call

WRONG: Final = frozenset({"implausible", "not-a-number"})
"""Keys of reasons that say that a number cannot be right."""
NUMBERS: Final = WRONG | {
    "charge-temp-missing",
    "count-missing",
    "inspection-reading-missing",
    "reading-missing",
    "temperature-missing",
}
"""Keys of reasons that a number settles."""
SECONDS: Final = frozenset({"preceptor-needed", "second-needed", "two-people-needed"})
"""Keys of reasons that the badge of a second person settles."""
THINGS: Final = (("check-missing", "yes-no"), ("solution-unknown", "solution"), ("instrument-needed", "instrument"))
"""Keys of reasons and what is scanned for each, in the order in which it is asked for."""
QUESTIONS: Final = ASKS | NUMBERS | SECONDS


@dataclass(frozen=True, slots=True)
class Question:
    """Is what must be scanned, or entered, before a sentence can be asked.

    Attributes:
        what: item, command, solution, instrument, defect, load, form, help, yes-no, number, second, pin, second-pin,
            badge (nobody is signed in), badge-pin (the badge alone is not enough).
        value: the number that is asked for.
        reason: why, where the department said so.
        step: the step whose checklist is asked.
        signed: whether the person at the bench gives the PIN as well.
    """

    what: str
    value: Value | None = None
    reason: Reason | None = None
    step: Step | None = None
    signed: bool = False


def ahead(parts: Served, found: Understood, given: Given) -> Question | Outcome | None:
    """Returns what is missing for the requests of a scan; or the refusal of what would only be signed in vain.

    None where it is to be asked now: nothing is missing, or the department refuses it and keeps that it was asked.
    """
    acting, (subject, first) = found.acting, found.wanted.requests[0]
    if may_not(acting.who, first.asked, acting.badge, acting.site) is not None:
        return None
    with looking(parts.department.ledger) as read:
        if read.answered(f"{given.key}/1") is not None:
            return None
    call = Call(first, acting.station, acting.badge, acting.second, parts.department.clock.new_id())
    (told,) = parts.department.desk.rehearse([call])
    if not isinstance(told, Answer):
        return None
    if told.verdict is Verdict.REFUSED and all(one.key in QUESTIONS for one in told.reasons):
        return _missing(found.scan, first, told.reasons)
    if not PERMISSIONS[first.asked].signed or given.pin is not None:
        return None
    return Question("pin", step=step_of(found.scan, first)) if told.accepted else Outcome(subject, first.asked, told)


def _missing(scan: Scan, first: Request, reasons: Sequence[Reason]) -> Question | None:
    """Returns the one thing that is asked for first: a number, then an answer, then a thing, then a person."""
    by_key = {one.key: one for one in reversed(reasons)}
    step = step_of(scan, first)
    number = next((one for one in reasons if one.key in NUMBERS), None)
    value = _value(scan, first, step, wrong=number.key in WRONG) if number is not None and step is not None else None
    if value is not None:
        return Question("number", value, number, step)
    for key, what in THINGS:
        if key in by_key:
            return Question(what, reason=by_key[key], step=step)
    second = next((one for one in reasons if one.key in SECONDS), None)
    return Question("second", reason=second, step=step) if second is not None else None


def _value(scan: Scan, first: Request, step: Step, *, wrong: bool) -> Value | None:
    """Returns the number that comes next; the first one again where one cannot be right."""
    starting = isinstance(first, asking.StartDwell)
    values = scanning.values_at_start(step) if starting else scanning.values_at_end(step)
    given = 0 if wrong else len(scan.numbers)
    return values[given] if given < len(values) else None


def step_of(scan: Scan, one: Request) -> Step | None:
    """Returns the step of the workflow that a request is about, or None."""
    part = next((part for part in scan.parts.values() if part is not None), None)
    if part is None:
        return None
    if isinstance(one, asking.Release):
        return part.workflow.release_step
    named = getattr(one, "step", None)
    return part.workflow.step_named(named) if isinstance(named, str) else None
