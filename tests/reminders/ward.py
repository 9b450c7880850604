"""A small department with a clock that a test moves, and the entries that reminders come from.

The entries are written by the ledger itself, not decided by the engine: what is tried here is what follows from them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from reprocess.demo.clock import StoryClock
from reprocess.department import Department, found_department, open_department
from reprocess.ledger.append import transaction
from reprocess.record import words
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import Body, ReminderEscalated, ReminderRang, ReminderSeen
from reprocess.reminders.rounds import Rang, sweep
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.scheduling import refresh_dues
from reprocess.shipped import folder, read_file
from tests.timetable.moments import at

START = "2026-03-05T07:00:00+00:00"
SITE = "site:LMG"
CONTACT = words.DwellStarted(
    step="disinfect", cycle=1, dwell="wet-contact", attempt=1, least_s=180, greatest_s=1800, film_s=105
)
FILES = ("blower", "respirator", "agents/quat-alcohol-wipe", "agents/hydrogen-peroxide-wipe", "agents/opa-055")


@dataclass
class Heard:
    """Is a channel that remembers what it was given; `deaf` makes it fail for some reminders."""

    rings: list[Rang] = field(default_factory=list)
    deaf: frozenset[str] = frozenset()

    def __call__(self, rang: Rang) -> bool:
        if str(rang.due.words["say"]) in self.deaf:
            return False
        self.rings.append(rang)
        return True

    @property
    def keys(self) -> list[str]:
        """The keys of what was given for the first time."""
        return [one.due.key for one in self.rings if one.to_role is None]

    @property
    def escalated(self) -> list[str]:
        return [one.due.key for one in self.rings if one.to_role is not None]

    @property
    def says(self) -> list[str]:
        return [str(one.due.words["say"]) for one in self.rings]


@dataclass
class Ward:
    """Is the department under test with its clock."""

    department: Department
    clock: StoryClock
    path: Path

    def write(self, stream: str, *bodies: Body) -> None:
        """Writes entries of one stream and refreshes what is due, in one transaction."""
        key = self.clock.new_id()
        with transaction(self.department.ledger) as work:
            envelope = Envelope(self.clock.now(), 0, "P-01", None, "LMG-C1", key, "test")
            ids = iter([self.clock.new_id() for _ in bodies])
            prepared = work.prepare([Draft(stream, body) for body in bodies], envelope, ids)
            entries = work.write(prepared, as_text(Answer(Verdict.ACCEPTED, stream, "test")))
            refresh_dues(work, self.department.library, entries)

    def sweep(self, heard: Heard, node: str = "bench-1") -> list[Rang]:
        return sweep(self.department.ledger, self.clock, heard, node)

    def second(self, seconds: int, heard: Heard) -> None:
        """Lets seconds pass, with a sweep in each."""
        for _ in range(seconds):
            self.clock.push(1)
            self.sweep(heard)

    def told(self) -> list[Body]:
        """What the record says of reminders, oldest first."""
        kinds = (ReminderRang, ReminderSeen, ReminderEscalated)
        return [entry.body for entry in self.department.history(SITE) if isinstance(entry.body, kinds)]

    def rang(self) -> list[str]:
        return [body.key for body in self.told() if isinstance(body, ReminderRang)]

    def count(self, table: str) -> int:
        with self.department.ledger.cursor() as cursor:
            return int(cursor.execute(f"SELECT count(*) FROM {table}").fetchone()[0])  # noqa: S608


def found(path: Path, items: int) -> Ward:
    """A department with so many blowers at one site, nothing due yet."""
    clock = StoryClock(at(START))
    lines = "\n".join(
        f"  - {{item: BLW-{n:04d}, workflow: blower, model: LB-3, site: LMG}}" for n in range(1, items + 1)
    )
    file = f"""network: Larkmoor Health Network
demo: true
sites:
  - {{site: LMG, title: Larkmoor General, zone: Europe/London}}
stations:
  - {{station: LMG-C1, title: Clean bench 1, site: LMG, side: any}}
people:
  - {{person: P-01, name: Tilda Marsh, roles: [supervisor], badges: [B-01]}}
  - {{person: P-02, name: Iver Stoll, roles: [supervisor], badges: [B-02]}}
files: {{published_by: P-01, approved_by: P-02}}
items:
{lines}
"""
    shipped = [read_file(folder() / f"{name}.yaml") for name in FILES]
    return Ward(found_department(path, file, clock=clock, shipped=shipped), clock, path)


def again(ward: Ward) -> Ward:
    """The same department opened once more, as after a restart."""
    return Ward(open_department(ward.path, clock=ward.clock), ward.clock, ward.path)
