"""From the words of `reprocess load` to a request, and how a load is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from reprocess.commandline.baths import needed
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.gathering import state_as
from reprocess.ledger.append import looking
from reprocess.ledger.files import FILE_BYTES_MAX, keep_file
from reprocess.quantities.logger import LoggerRecord, read_logger
from reprocess.record.loads import Load
from reprocess.record.states import as_text
from reprocess.rules.loads import terms_of
from reprocess.terms import StreamKind, stream

PASSED, FAILED = "passed", "failed"


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    load: str
    items: tuple[str, ...]
    machine: str | None
    programme: str | None
    hottest: str | None
    lasts_s: int | None
    counted: int | None
    record: Path | None
    logger: str | None
    by_hand: bool
    readings: dict[str, str]
    good: bool
    yes: tuple[str, ...]
    no: tuple[str, ...]
    indicators: dict[str, str]
    interrupted: bool
    resumed: str | None
    more: bool
    recount: bool
    because: str | None
    why: str | None


def request_from(verb: str, given: Given, opened: Department) -> Request:
    """Returns the request that the words mean; a logger's file that can be read is kept beside the record first.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    match verb:
        case "programme":
            if given.lasts_s is None:
                message = "This needs --lasts, the seconds that the programme takes."
                raise WrongUseError(message)
            name, hottest = needed(given.programme, "--programme"), needed(given.hottest, "--hottest")
            return asking.SetProgramme(given.load, name, hottest, given.lasts_s)
        case "open":
            return asking.OpenLoad(
                given.load, needed(given.machine, "--machine"), needed(given.programme, "--programme")
            )
        case "add":
            return asking.AddToLoad(given.load, given.items)
        case "remove":
            return asking.RemoveFromLoad(given.load, given.items, given.counted)
        case "start":
            return asking.StartLoad(given.load)
        case "unload":
            return asking.UnloadLoad(given.load, given.items, more=given.more, recount=given.recount)
        case "fail":
            return asking.FailLoad(given.load, needed(given.because, "--because"), given.why or "not said")
        case _:
            return _end(given, opened)


def _end(given: Given, opened: Department) -> Request:
    text = _text(given.record) if given.record is not None else None
    kept = text is not None and isinstance(read_logger(text), LoggerRecord)
    if text is not None and kept:
        keep_file(opened.ledger, text.encode())
    return asking.EndLoad(
        given.load,
        text,
        given.logger,
        given.readings,
        _checks(given, opened),
        _indicators(given.indicators),
        given.by_hand,
        given.interrupted,
        given.resumed,
        given.record.name if given.record is not None and kept else None,
    )


def _text(path: Path) -> str:
    try:
        content = path.read_bytes()
        if len(content) <= FILE_BYTES_MAX:
            return content.decode("utf-8")
    except OSError as fault:
        message = f"{path} cannot be read: {fault.strerror}."
        raise WrongUseError(message) from fault
    except UnicodeDecodeError as fault:
        message = f"{path.name} is no plain text; export it as CSV in UTF-8."
        raise WrongUseError(message) from fault
    message = f"{path.name} is longer than one cycle can be; export this cycle alone."
    raise WrongUseError(message)


def _checks(given: Given, opened: Department) -> dict[str, bool]:
    both = set(given.yes) & set(given.no)
    if both:
        message = f"{', '.join(sorted(both))} cannot be both good and not good."
        raise WrongUseError(message)
    checks = dict.fromkeys(_asked(given.load, opened), True) if given.good else {}
    return checks | dict.fromkeys(given.yes, True) | dict.fromkeys(given.no, False)


def _asked(name: str, opened: Department) -> list[str]:
    """Returns the lines of the checklists of all steps that a load does for its items; the same said again."""
    parts = [part for item in load_of(opened, name).items if (part := opened.part(item)) is not None]
    workflows = {part.digest: part.workflow for part in parts}
    steps = [step for workflow in workflows.values() for step in workflow.steps if terms_of(step) is not None]
    return [one.check for step in steps for one in step.checks]


def _indicators(told: dict[str, str]) -> dict[str, bool]:
    wrong = sorted(name for name, result in told.items() if result not in {PASSED, FAILED})
    if wrong:
        message = f"An indicator {PASSED} or {FAILED}, such as cleaning={PASSED}; see {', '.join(wrong)}."
        raise WrongUseError(message)
    return {name: result == PASSED for name, result in told.items()}


def load_of(opened: Department, name: str) -> Load:
    """Returns where a load stands.

    Raises:
        UnknownSubjectError: no such load is on record.
    """
    with looking(opened.ledger) as read:
        load = state_as(read, stream(StreamKind.LOAD, name), Load)
    if not load.known:
        message = f"{name} is not on record."
        raise UnknownSubjectError(message, subject=name)
    return load


def show(opened: Department, name: str, local: Local, *, as_json: bool) -> int:
    """Prints where a load stands and returns the exit code: 1 where it failed or was not counted right."""
    load = load_of(opened, name)
    if as_json:
        print(json.dumps(json.loads(as_text(load)), ensure_ascii=False))
    else:
        print("\n".join(_lines(load, local)))
    return 1 if load.failed_us is not None or load.miscounted else 0


def _lines(load: Load, local: Local) -> list[str]:
    lines = [f"{load.load}  {load.state}: {load.programme} in {load.machine}, opened {local(load.opened_us)}"]
    lines.append(f"  items: {', '.join(sorted(load.items)) or 'none'}")
    if load.started is not None:
        ended = local(load.ended.wall_us) if load.ended is not None else "not ended"
        lines.append(f"  started {local(load.started.wall_us)}, ended {ended}")
    lines += [f"  A0 {one.a0_s} s, from {one.floor_c} degC up, {one.sampling}; {load.source}" for one in load.doses]
    lines += [f"  indicator {name}: {PASSED if good else FAILED}" for name, good in sorted(load.indicators.items())]
    if load.unloaded:
        lines.append(f"  unloaded: {', '.join(load.unloaded)}")
    if load.miscounted:
        lines.append(f"  missing: {', '.join(load.missing) or 'none'}; strange: {', '.join(load.strange) or 'none'}")
    if load.failed_us is not None:
        lines.append(f"  failed {local(load.failed_us)} [{load.failed_rule}]: {load.failed_because}")
    return lines
