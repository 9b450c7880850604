"""A small record with something of every topic: items, people, a wearer, a case, two sites."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reprocess.clock import StoryClock
from reprocess.department import Department, found_department
from reprocess.exchange.events import Sight
from reprocess.ledger.append import transaction
from reprocess.record import words
from reprocess.record.catalogue import SCOPES
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import Body
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.shipped import folder, read_file
from tests.timetable.moments import at

WEARER = "W-0123456789ABCDEF"
EVERYTHING = Sight(scopes=frozenset(SCOPES), cases=True)
FILE = """network: Larkmoor Health Network
demo: true
sites:
  - {site: LMG, title: Larkmoor General, zone: Europe/London}
  - {site: FEN, title: Fenwick Annexe, zone: America/Halifax}
stations:
  - {station: LMG-C1, title: Clean bench 1, site: LMG, side: any}
  - {station: FEN-C1, title: Clean bench, site: FEN, side: any}
people:
  - {person: P-01, name: Tilda Marsh, roles: [supervisor], badges: [B-01]}
  - {person: P-02, name: Iver Stoll, roles: [system-administrator], badges: [B-02]}
  - {person: P-03, name: Wendel Crake, roles: [technician], badges: [B-03]}
files: {published_by: P-01, approved_by: P-02}
items:
  - {item: BLW-0001, workflow: blower, model: LB-3, site: LMG}
"""
FILES = ("blower", "respirator", "agents/quat-alcohol-wipe", "agents/hydrogen-peroxide-wipe", "agents/opa-055")


@contextmanager
def fed(path: Path) -> Iterator[Department]:
    """Yields the department, with a clock that stands still until it is pushed."""
    clock = StoryClock(at("2026-03-05T07:00:00+00:00"))
    shipped = [read_file(folder() / f"{name}.yaml") for name in FILES]
    with found_department(path, FILE, clock=clock, shipped=shipped) as department:
        write(department, f"wearer:{WEARER}", words.WearerRegistered(unit="ward 3", site="LMG"))
        issued = words.ItemIssued(cycle=1, place="ward 3", purpose="clinical", wearer=WEARER)
        write(department, "item:BLW-0001", issued)
        write(department, "item:BLW-0001", words.WearStepDone(phase="put-on", step="don", done=True))
        case = words.CaseOpened(rule="H06", cause="bath failed", items=("BLW-0001",), uses=())
        write(department, "case:C-1", case)
        noted = words.FactNoted(subject="case:C-1", asked="look", words={})
        write(department, "site:LMG", noted)
        yield department


def write(department: Department, stream: str, body: Body, station: str = "LMG-C1") -> None:
    """Writes one entry, as it would stand after a decision."""
    clock = department.clock
    with transaction(department.ledger) as work:
        envelope = Envelope(clock.now(), 0, "P-01", None, station, clock.new_id(), "test")
        prepared = work.prepare([Draft(stream, body)], envelope, iter([clock.new_id()]))
        work.write(prepared, as_text(Answer(Verdict.ACCEPTED, stream, "test")))
