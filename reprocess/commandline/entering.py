"""Batches of forms: read, rehearsed or entered in one transaction, and told with the conflicts first."""

from __future__ import annotations

import json
import secrets
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from reprocess.commandline import form_lines, say
from reprocess.commandline.form_lines import Fault, Told
from reprocess.commandline.options import readable
from reprocess.department import Bench, Department
from reprocess.engine import request as asking
from reprocess.errors import LedgerError, ReprocessError, WrongUseError
from reprocess.ledger.open import keep_key
from reprocess.record.forms import Form
from reprocess.record.queue import Broken, Queue, read_queue, station_of
from reprocess.rules.answer import Answer, Verdict
from reprocess.station import Call
from reprocess.terms import as_text

BYTES_MOST: Final = 4_000_000
KEY_BYTES: Final = 32
HEADINGS: Final = (
    (Verdict.HELD, "Against the record: kept, on hold"),
    (Verdict.REFUSED, "Not taken: kept as words"),
    (Verdict.ACCEPTED, "Taken"),
)
Outcome = Answer | ReprocessError


@dataclass(frozen=True, slots=True)
class Batch:
    """Is everything that one file says: its lines in the order of time, its forms, and from where."""

    told: tuple[Told, ...]
    source: str
    notes: tuple[str, ...] = ()

    def forms(self) -> dict[str, list[Told]]:
        """Returns the lines of each form, in the order of the file."""
        found: dict[str, list[Told]] = {}
        for one in self.told:
            found.setdefault(one.form, []).append(one)
        return {form: sorted(lines, key=lambda one: one.line) for form, lines in found.items()}


def batch_in(path: Path, department: Department, zone: str, day: str | None) -> Batch:
    """Returns what a CSV file of forms says.

    Raises:
        WrongUseError: it cannot be read; every fault is named with its line, and nothing is recorded.
    """
    rows = form_lines.rows_of(_text(path))
    shape = [one for one in rows if isinstance(one, Fault)]
    told, faults = ([], shape) if shape else form_lines.told_by(_whole(rows), department, zone, day)
    if faults:
        raise WrongUseError("\n".join(f"{path.name}:{one.row}: {one.because}" for one in faults), path=str(path))
    return Batch(tuple(form_lines.in_time_order(told)), "paper")


def _whole(rows: list[dict[str, str]] | list[Fault]) -> list[dict[str, str]]:
    return [row for row in rows if isinstance(row, dict)]


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            read = file.read(BYTES_MOST + 1)
        if len(read) <= BYTES_MOST:
            return read.decode("utf-8-sig")
        because = f"it is larger than {BYTES_MOST} bytes"
    except OSError as fault:
        because = fault.strerror or str(fault)
    except UnicodeDecodeError:
        because = "it is not UTF-8 text"
    message = f"{path} cannot be read: {because}."
    raise WrongUseError(message, path=str(path))


def key_path(department: Path, station: str) -> Path:
    """Returns where a station's own key lies: beside the department's."""
    return department.with_name(f"{department.name}.station-{station}.key")


def new_key(department: Path, station: str, *, as_json: bool) -> int:
    """Makes a key for a station's queue and tells where it is.

    Raises:
        WrongUseError: the station has one; a key is never overwritten.
        LedgerError: it cannot be written.
    """
    place = key_path(department, readable(station))
    try:
        keep_key(secrets.token_bytes(KEY_BYTES), place)
    except FileExistsError as fault:
        message = f"{place.name} is there already; a key is never overwritten."
        raise WrongUseError(message, path=str(place)) from fault
    except OSError as fault:
        message = f"{place} cannot be written: {fault.strerror}."
        raise LedgerError(message, path=str(place)) from fault
    print(json.dumps({"key": str(place)}) if as_json else f"Made {place.name}. Copy it to that station, nowhere else.")
    return 0


def queue_in(path: Path, department: Path) -> Queue:
    """Returns the queue in a file, its seals found whole under its station's key.

    Raises:
        WrongUseError: it is no queue, its station has no key here, or a line cannot be believed.
    """
    text = _text(path)
    station = station_of(text)
    if station is None:
        message = f"{path.name} is no queue of a station."
        raise WrongUseError(message, path=str(path))
    place = key_path(department, readable(station))
    if not place.is_file():
        message = f"Station {station} has no key here; `reprocess form key {station}` makes one before it is needed."
        raise WrongUseError(message, station=station)
    queue = read_queue(text, place.read_bytes())
    if isinstance(queue, Broken):
        message = f"{path.name}:{queue.line}: {queue.because}. Nothing was recorded; keep the file for a supervisor."
        raise WrongUseError(message, path=str(path), line=queue.line)
    return queue


def batch_of_queue(queue: Queue, department: Department, zone: str) -> Batch:
    """Returns what a queue says.

    Raises:
        WrongUseError: a line names what does not exist; every fault with its line.
    """
    told, faults = form_lines.told_by(form_lines.rows_of_queue(queue), department, zone, None)
    if faults:
        message = "\n".join(f"{queue.queue}:{one.row}: {one.because}" for one in faults)
        raise WrongUseError(message, queue=queue.queue)
    open_end = () if queue.closed else ("The queue has no end: scans after its last line may be missing.",)
    return Batch(tuple(form_lines.in_time_order(told)), "queue", open_end)


def enter(batch: Batch, bench: Bench, key: str | None, *, rehearsed: bool, as_json: bool) -> int:
    """Enters a batch, or only rehearses it, and tells what each line came to; 0 where all of it was taken."""
    forms, department = batch.forms(), bench.department
    base = key or department.clock.new_id()
    opening = [
        Call(_opened(form, lines, batch.source), bench.station, bench.badge, bench.second, f"{base}.{form}")
        for form, lines in forms.items()
    ]
    calls = [*opening, *(_call(one, bench, base) for one in batch.told)]
    outcomes = department.desk.take_together(calls, lambda found: not rehearsed and _stands(found, len(opening)))
    show = say.local_in(department.zone_of_station(bench.station))
    for note in batch.notes:
        print(note, file=sys.stderr)
    refused = [one for one in outcomes[: len(opening)] if isinstance(one, Answer) and not one.accepted]
    if refused:  # first, as the lines of a form that is refused name no form on record
        _tell_refused(refused, show, as_json=as_json)
        return 1
    named = [*forms, *(f"{one.form} line {one.line}" for one in batch.told)]
    faults = [
        f"{name}: {one.sentence}" for name, one in zip(named, outcomes, strict=True) if isinstance(one, ReprocessError)
    ]
    if faults:
        raise WrongUseError("\n".join(faults))
    answers = [one for one in outcomes if isinstance(one, Answer)]
    lines = list(zip(batch.told, answers[len(opening) :], strict=True))
    if as_json:
        print(json.dumps({"recorded": not rehearsed, "lines": _as_json(lines, show)}, ensure_ascii=False))
    else:
        _tell(lines, show, rehearsed=rehearsed)
    return 0 if all(one.accepted and not one.reasons for _, one in lines) else 1


def _opened(form: str, lines: Sequence[Told], source: str) -> asking.EnterForm:
    return asking.EnterForm(form, len(lines), form_lines.digest_of(lines), source)


def _call(one: Told, bench: Bench, base: str) -> Call:
    return Call(one.request, bench.station, bench.badge, bench.second, f"{base}.{one.form}.{one.line}")


def _stands(outcomes: Sequence[Outcome], forms: int) -> bool:
    """Tells whether every form was accepted and no line named what does not exist."""
    opened = all(isinstance(one, Answer) and one.accepted for one in outcomes[:forms])
    return opened and not any(isinstance(one, ReprocessError) for one in outcomes)


def _tell_refused(refused: list[Answer], show: say.Local, *, as_json: bool) -> None:
    if as_json:
        told = {"recorded": False, "refused": [say.answer_json(one, show) for one in refused]}
        print(json.dumps(told, ensure_ascii=False))
        return
    for one in refused:
        print("\n".join(say.answer_lines(one, show)))
    print("Nothing of the file was recorded.")


def _as_json(lines: list[tuple[Told, Answer]], show: say.Local) -> list[dict[str, Any]]:
    found = [{"form": one.form, "line": one.line, **say.answer_json(answer, show)} for one, answer in _sorted(lines)]
    return list(found)


def _sorted(lines: list[tuple[Told, Answer]]) -> list[tuple[Told, Answer]]:
    """Returns the lines with those first that do not fit the record, each group in the order of time."""
    order = [verdict for verdict, _ in HEADINGS]
    return sorted(lines, key=lambda one: order.index(one[1].verdict))


def _tell(lines: list[tuple[Told, Answer]], show: say.Local, *, rehearsed: bool) -> None:
    for verdict, heading in HEADINGS:
        group = [(one, answer) for one, answer in lines if answer.verdict is verdict]
        if group:
            print(f"{heading} ({len(group)})")
        for one, answer in group:
            name = f"{one.form} line {one.line}"
            first, *rest = say.answer_lines(answer, show)
            print(f"  {name:<18} {first}")
            rest = rest if verdict is not Verdict.ACCEPTED else [line for line in rest if line.startswith("  note")]
            for line in rest:
                print(f"  {line}")
    print("A rehearsal: nothing was recorded." if rehearsed else f"Recorded: {len(lines)} lines.")


def show(department: Department, number: str, *, as_json: bool) -> int:
    """Tells whether a form was entered, when and by whom; 1 where it was not."""
    form = department.form(readable(number))
    told = _form_fields(form)
    if as_json:
        print(json.dumps(told))
    elif form.entered_us is None:
        print(f"{told['form']} is not entered.")
    else:
        print(
            f"{form.form}: {form.lines} lines entered {as_text(form.entered_us)} by {form.entered_by}, "
            f"countersigned by {form.countersigned_by}."
        )
    return 0 if form.entered_us is not None else 1


def _form_fields(form: Form) -> dict[str, Any]:
    at = as_text(form.entered_us) if form.entered_us is not None else None
    by = {"entered_by": form.entered_by, "countersigned_by": form.countersigned_by}
    return {"form": form.form, "source": form.source, "lines": form.lines, "entered_at": at, **by}
