"""`reprocess sheet`: prints commands, defects, tags, stations, slips, numbered forms and labels as PDF/A."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption

if TYPE_CHECKING:
    from reprocess.department import Department
    from reprocess.papers import Sheet


class SheetSort(StrEnum):
    """Lists what can be printed."""

    COMMANDS = "commands"
    DEFECTS = "defects"
    FORM = "form"
    TAGS = "tags"
    SLIPS = "slips"
    STATIONS = "stations"
    LABEL = "label"


@dataclass(frozen=True, slots=True)
class Wanted:
    """Is what is to be printed: the names and options as typed."""

    sort: SheetSort
    names: list[str]
    count: int
    size: str
    language: str


def sheet(
    sort: Annotated[SheetSort, typer.Argument(help="What is printed; label: of released items, from the record.")],
    names: Annotated[
        list[str] | None,
        typer.Argument(help="tags, slips, label: the items. stations: which. form: the first form's number."),
    ] = None,
    out: Annotated[Path, typer.Option("--out", help="The PDF file; an existing one is not overwritten.")] = Path(
        "sheet.pdf"
    ),
    language: Annotated[str, typer.Option("--language", help="The words on it: en, es or ar.")] = "en",
    size: Annotated[str, typer.Option("--size", help="tags: a4, or one a page of a roll: 50x30, 25x15 (mm).")] = "a4",
    count: Annotated[int, typer.Option("--count", help="form: how many, numbered on.")] = 1,
    day: Annotated[str, typer.Option("--day", help="The date that the sheet bears.")] = "",
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Print a sheet; the same words and the same day give the same bytes.

    Labels are made from the record. Tags, slips and stations also say what each is where --department is given.
    """
    import json

    from reprocess.commandline.options import readable
    from reprocess.papers import as_pdf

    bears = _day(day)
    asked = Wanted(sort, [readable(one) for one in names or []], count, size, language)
    made = _made(asked, department)
    _write(out, as_pdf(made, bears))
    told = {"file": str(out), "day": bears.isoformat(), "codes": made.codes()}
    print(json.dumps(told) if as_json else f"Printed {len(made.codes())} codes to {out}.")


def _day(typed: str) -> date:
    """Returns the day that was typed, or today.

    Raises:
        WrongUseError: it is no day.
    """
    from reprocess.clock import SystemClock
    from reprocess.errors import WrongUseError
    from reprocess.terms import as_datetime

    try:
        return date.fromisoformat(typed) if typed else as_datetime(SystemClock().now().wall_us).date()
    except ValueError as fault:
        message = f"A day is written 2026-12-31, not {typed[:20]!r}."
        raise WrongUseError(message) from fault


def _write(out: Path, content: bytes) -> None:
    """Writes a new file.

    Raises:
        WrongUseError: it is there already.
        LedgerError: it cannot be written.
    """
    from reprocess.errors import LedgerError, WrongUseError

    try:
        with out.open("xb") as file:
            file.write(content)
    except FileExistsError as fault:
        message = f"{out} is there already; name another file with --out."
        raise WrongUseError(message) from fault
    except OSError as fault:
        message = f"{out} cannot be written: {fault.strerror}."
        raise LedgerError(message) from fault


def _made(asked: Wanted, place: Path | None) -> Sheet:
    """Returns what is asked for: labels from the record, all else with or without it."""
    from reprocess.commandline.opening import department_at

    if asked.sort is SheetSort.LABEL:
        with department_at(place) as opened:
            return _labels(asked, opened)
    if place is None:
        return _sheet(asked, None)
    with department_at(place) as opened:
        return _sheet(asked, opened)


def _sheet(asked: Wanted, opened: Department | None) -> Sheet:
    from reprocess import papers

    names, language, banner = asked.names, asked.language, _banner(opened)
    if asked.sort is SheetSort.COMMANDS:
        return papers.command_sheet(language)
    if asked.sort is SheetSort.DEFECTS:
        return papers.defect_sheet(language)
    if asked.sort is SheetSort.FORM:
        return papers.form_sheet(papers.numbers_from(_only(names), asked.count), language)
    if asked.sort is SheetSort.STATIONS:
        titles = {one.station: one.title for one in opened.stations()} if opened is not None else {}
        return papers.station_sheet(names or list(titles), titles=titles, language=language, banner=banner)
    kinds = _kinds(names, opened)
    if asked.sort is SheetSort.SLIPS:
        return papers.slip_sheet(names, kinds=kinds, language=language, banner=banner)
    return papers.tag_sheet(names, kinds=kinds, size=asked.size, language=language, banner=banner)


def _only(names: list[str]) -> str:
    from reprocess.errors import WrongUseError

    if len(names) != 1:
        message = "Name the first form's number, such as FEN-0101."
        raise WrongUseError(message)
    return names[0]


def _banner(opened: Department | None) -> list[str]:
    from reprocess.clock import StoryClock

    return ["demo"] if opened is not None and isinstance(opened.clock, StoryClock) else []


def _kinds(names: list[str], opened: Department | None) -> dict[str, str]:
    """Returns what each item is, as far as the record knows it."""
    if opened is None:
        return {}
    parts = ((name, opened.part(name)) for name in names)
    return {name: part.standing.item_kind for name, part in parts if part is not None}


def _labels(asked: Wanted, opened: Department) -> Sheet:
    """Returns the labels of released items; where one gets none, says why and prints none at all."""
    import sys

    from reprocess.commandline import say
    from reprocess.ledger.append import looking
    from reprocess.papers import NotReleased, label_sheet, released

    now_us = opened.clock.now().wall_us
    with looking(opened.ledger) as read:
        found = [released(read, opened.library, name, now_us) for name in asked.names]
    refused = [one for one in found if isinstance(one, NotReleased)]
    for one in refused:
        lines = [line for reason in one.reasons for line in say.reason_lines(reason, say.local_in(opened.zone()))]
        print("\n".join([f"NO LABEL  {one.item}", *lines]), file=sys.stderr)
    if refused:
        raise typer.Exit(1)
    example = ["example"] if opened.rests_on_examples() else []
    kept = [one for one in found if not isinstance(one, NotReleased)]
    return label_sheet(kept, asked.language, [*_banner(opened), *example])
