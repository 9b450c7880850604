"""The department under test, and imports and exports as they are typed."""

from __future__ import annotations

import io
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import typer

from reprocess.demo.clock import StoryClock, keep
from reprocess.department import Department, found_department
from reprocess.exchange.writing import write_table
from reprocess.ledger.append import looking
from reprocess.shipped import folder, read_file
from tests.timetable.moments import at

import_ = import_module("reprocess.commandline.import").import_
FILES = ("blower", "filter-gasket", "agents/quat-alcohol-wipe", "agents/hydrogen-peroxide-wipe")
PEOPLE = """network: Larkmoor Health Network
demo: true
sites:
  - {site: LMG, title: Larkmoor General, zone: Europe/London}
  - {site: SAL, title: Saltmarsh, zone: America/Halifax}
stations:
  - {station: LMG-C1, title: Clean bench 1, site: LMG, side: any}
people:
  - {person: P-01, name: Tilda Marsh, sites: [LMG, SAL], roles: [supervisor], badges: [B-01]}
  - {person: P-02, name: Iver Stoll, sites: [LMG], roles: [supervisor, programme-administrator], badges: [B-02]}
  - {person: P-03, name: Orla Finch, sites: [LMG], badges: [B-03]}
files: {published_by: P-01, approved_by: P-02}
"""


@dataclass
class Desk:
    """Is the department under test."""

    department: Department
    path: Path

    def take(self, table: str, file: Path, *, dry_run: bool = False, badge: str = "B-01", as_json: bool = False) -> int:
        """Returns the exit code of an import."""
        try:
            import_(table, file, dry_run, badge, None, self.path, as_json)
        except typer.Exit as ended:
            return int(ended.exit_code)
        return 0

    def out(self, table: str) -> str:
        """Returns a table as it goes out."""
        with looking(self.department.ledger) as read:
            file = io.StringIO()
            write_table(file, table, read)
        return file.getvalue()

    def entries(self) -> int:
        with self.department.ledger.cursor() as cursor:
            return int(cursor.execute("SELECT count(*) FROM entry").fetchone()[0])


def founded(path: Path) -> Desk:
    clock = StoryClock(at("2026-03-05T07:00:00+00:00"))
    shipped = [read_file(folder() / f"{name}.yaml") for name in FILES]
    department = found_department(path, PEOPLE, clock=clock, shipped=shipped)
    keep(clock, path)
    return Desk(department, path)
