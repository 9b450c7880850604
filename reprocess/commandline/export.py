"""`reprocess export`: writes a table as CSV, or the record in an open standard."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from reprocess.commandline.options import DepartmentOption
from reprocess.errors import WrongUseError

if TYPE_CHECKING:
    from reprocess.department import Department
    from reprocess.ledger.append import Transaction


class Exported(StrEnum):
    """Lists the tables that go out."""

    ITEMS = "items"
    PEOPLE = "people"
    COMPETENCIES = "competencies"
    CONFIGURATIONS = "configurations"
    LOTS = "lots"
    PLACES = "places"
    WEARERS = "wearers"
    ENTRIES = "entries"
    DUE = "due"
    TOUCHES = "touches"


class Form(StrEnum):
    """Lists how a table goes out."""

    CSV = "csv"
    PARQUET = "parquet"
    EPCIS = "epcis"
    FHIR = "fhir"


def export(
    table: Annotated[Exported, typer.Argument(help="What is written.")],
    out: Annotated[Path | None, typer.Option("--out", help="The new file; standard output where left out.")] = None,
    department: DepartmentOption = None,
    form: Annotated[Form, typer.Option("--as", help="CSV, or an open standard; see above for what.")] = Form.CSV,
) -> None:
    """Write a table with stable headings, or in an open standard; wearers are pseudonyms.

    Parquet: items, entries, touches, into a new folder by site and month. EPCIS: entries. FHIR R5: items,
    configurations, entries, one resource a line.
    """
    from reprocess.commandline.opening import department_at
    from reprocess.ledger.append import looking

    with department_at(department) as opened, looking(opened.ledger) as read:
        try:
            told = _write(table, form, out, opened, read)
        except FileExistsError as fault:
            message = f"{out} is there already: name another file, or move it away."
            raise WrongUseError(message) from fault
        except OSError as fault:
            message = f"{out} cannot be written: {fault.strerror or fault}."
            raise WrongUseError(message) from fault
    if out is not None:
        print(f"{out} has {told} of {table}.")


def _write(table: Exported, form: Form, out: Path | None, opened: Department, read: Transaction) -> str:
    """Writes a table and returns how much of what it has."""
    if form is Form.CSV:
        return f"{_as_csv(table, out, read)} lines"
    if form is Form.PARQUET:
        return f"{_as_parquet(table, out, read)} rows"
    if form is Form.EPCIS:
        happened = Counted(_happened(table, read))
        _pour(_document_of(happened, opened), out)
        return f"{happened.count} events"
    resources = Counted(_resources(table, opened, read))
    _pour(_lines_of(resources), out)
    return f"{resources.count} resources"


@dataclass(slots=True)
class Counted:
    """Passes on what comes, and counts it."""

    source: Iterator[dict[str, Any]]
    count: int = 0

    def __iter__(self) -> Iterator[dict[str, Any]]:
        for one in self.source:
            self.count += 1
            yield one


def _as_csv(table: Exported, out: Path | None, read: Transaction) -> int:
    from reprocess.exchange.writing import write_table

    if out is None:
        return write_table(sys.stdout, table, read)
    with out.open("x", encoding="utf-8", newline="") as file:
        return write_table(file, table, read)


def _as_parquet(table: Exported, out: Path | None, read: Transaction) -> int:
    from reprocess.exchange.parquet import write_archive

    if out is None:
        message = "Parquet needs a new folder: name it with --out."
        raise WrongUseError(message)
    return write_archive(out, "standings" if table is Exported.ITEMS else table, read)


def _happened(table: Exported, read: Transaction) -> Iterator[dict[str, Any]]:
    from reprocess.exchange.epcis import events

    if table is not Exported.ENTRIES:
        message = "EPCIS tells what happened: export `entries`."
        raise WrongUseError(message)
    return events(read.each_entry(), read.entries_of)


def _document_of(happened: Iterable[dict[str, Any]], opened: Department) -> Iterator[bytes]:
    from reprocess.exchange.epcis import document

    return document(happened, opened.clock.now().wall_us)


def _resources(table: Exported, opened: Department, read: Transaction) -> Iterator[dict[str, Any]]:
    from reprocess.exchange.fhir.searching import Facade
    from reprocess.exchange.fhir.terms import Seeing

    kinds = {
        Exported.ITEMS: ("Device",),
        Exported.CONFIGURATIONS: ("DeviceDefinition",),
        Exported.ENTRIES: ("AuditEvent", "Task", "Observation", "DeviceDispense"),
    }.get(table)
    if kinds is None:
        message = "FHIR is served for `items`, `configurations` and `entries`."
        raise WrongUseError(message)
    facade = Facade(read, opened.library, Seeing(wearers=True), opened.clock.now().wall_us)
    return (one for kind in kinds for one in facade.everything(kind))


def _lines_of(resources: Iterable[dict[str, Any]]) -> Iterator[bytes]:
    """Yields one resource a line, as FHIR's bulk data does (HL7 FHIR R5, page "nd-json")."""
    from reprocess.exchange.fhir.terms import as_json

    return (as_json(one) + b"\n" for one in resources)


def _pour(lines: Iterator[bytes], out: Path | None) -> None:
    if out is None:
        for line in lines:
            sys.stdout.buffer.write(line)
        return
    with out.open("xb") as file:
        for line in lines:
            file.write(line)
