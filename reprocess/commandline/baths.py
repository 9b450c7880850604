"""From the words of `reprocess solution` to a request, and how a solution is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass

from reprocess.commandline.asking import day_ends_us
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine.request import EndSolution, MakeSolution, Request, TestSolution, TopUpSolution
from reprocess.errors import WrongUseError
from reprocess.record.states import as_text


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    solution: str
    what: str | None
    lot: str | None
    lot_until: str | None
    hours: int | None
    percent: str | None
    stock: str | None
    water: str | None
    one_in: str | None
    litres: str | None
    temp: str | None
    reading: str | None
    passed: bool | None
    control: bool
    after: int | None


def request_from(verb: str, given: Given, zone: str) -> Request:
    """Returns the request that the words mean.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    match verb:
        case "make":
            return _make(given, zone)
        case "test":
            return TestSolution(
                given.solution,
                strip_lot=needed(given.lot, "--lot"),
                strip_expiry_us=day_ends_us(needed(given.lot_until, "--lot-until"), zone),
                reading=given.reading,
                passed=given.passed,
                control_run=given.control,
                read_after_s=given.after,
            )
        case "top-up":
            return TopUpSolution(
                given.solution,
                lot=needed(given.lot, "--lot"),
                lot_expiry_us=day_ends_us(needed(given.lot_until, "--lot-until"), zone),
                volume_l=needed(given.litres, "--litres"),
            )
        case _:
            return EndSolution(given.solution, needed(given.what, "why it ends"))


def _make(given: Given, zone: str) -> Request:
    if given.one_in is not None and (given.water is not None or given.stock is not None):
        message = "Say either --one-in (1 in n) or --stock and --water (1 plus n), not both."
        raise WrongUseError(message)
    return MakeSolution(
        given.solution,
        agent=needed(given.what, "the agent"),
        lot=needed(given.lot, "--lot"),
        lot_expiry_us=day_ends_us(needed(given.lot_until, "--lot-until"), zone),
        hours=given.hours,
        stock_percent=given.percent,
        stock_parts=given.stock,
        water_parts=given.water,
        one_in=given.one_in,
        water_l=given.litres,
        temp_c=given.temp,
    )


def needed(value: str | None, what: str) -> str:
    """Returns a value that must be there.

    Raises:
        WrongUseError: it is not.
    """
    if value is None:
        message = f"This needs {what}."
        raise WrongUseError(message)
    return value


def show(opened: Department, name: str, local: Local, *, as_json: bool) -> int:
    """Prints where a solution stands and returns the exit code."""
    bath = opened.solution(name)
    if as_json:
        print(json.dumps(json.loads(as_text(bath)), ensure_ascii=False))
        return 0
    until = local(bath.expires_us)
    lots, made = ", ".join(bath.lots), local(bath.made_us)
    print(f"{bath.solution}  {bath.form} of {bath.agent}, lot {lots}, made {made}, until {until}")
    passed = local(bath.passed_us) if bath.passed_us is not None else "never"
    print(f"  last passed: {passed}; contacts since then: {bath.touched_since_pass}, in all: {bath.touched}")
    if bath.ended is not None:
        print(f"  ended: {bath.ended}")
    return 0
