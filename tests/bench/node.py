"""One node on loopback for the benchmark: `python -m tests.bench.node FOLDER PEOPLE ITEMS [validate]`.

It founds a department with that many people, each signed in at a station of their own, prints its port and their
sessions as one line of JSON, and serves until its standard input ends. `validate` answers every scan without asking
the department: what the same server does when it only reads, checks and answers.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from threading import Event

from reprocess.batching import Outcome
from reprocess.department import Department, found_department
from reprocess.engine.enrolling import Commission
from reprocess.rules.answer import Answer, Verdict
from reprocess.service import serving
from reprocess.service.app import create_app
from reprocess.service.who import door_of
from reprocess.settings import ServiceSettings, Settings
from reprocess.station import Call

PERSON = """  - person: P-{n}
    name: Person {n}
    roles: [supervisor]
    badges: [B-{n}]
    competencies: [{{competency: take-apart, since: "2026-01-01", until: "2030-01-01", assessor: Two}}]
"""
FOUNDING = """network: Bench
sites: [{{site: LMG, title: Larkmoor General, zone: Europe/London}}]
stations:
{stations}
people:
{people}
files: {{published_by: P-1, approved_by: P-2}}
"""


def founded(folder: Path, people: int, items: int) -> Department:
    """Returns a department with people P-1.., stations D1.. and blowers BLW-0.. ."""
    stations = "\n".join(f"  - {{station: D{n}, title: D{n}, site: LMG, side: any}}" for n in range(1, people + 1))
    everybody = "".join(PERSON.format(n=n) for n in range(1, people + 1))
    made = found_department(folder / "node.db", FOUNDING.format(stations=stations, people=everybody))
    bench = made.station("D1", badge="B-1")
    for number in range(items):
        bench.enrol(Commission(f"BLW-{number}", "blower", "LB-3"))
    return made


class Nothing:
    """Stands where a desk stands and says yes to everything."""

    def __init__(self, made: Department) -> None:
        self.clock = made.clock

    def take_all(self, calls: Sequence[Call]) -> list[Outcome]:
        """Returns yes for each call."""
        return [Answer(Verdict.ACCEPTED, "item:none", call.request.asked, key=call.key) for call in calls]


def main(folder: str, people: str, items: str, *more: str) -> None:
    """Serves until standard input ends."""
    made = founded(Path(folder), int(people), int(items))
    listening = serving.Listening("127.0.0.1", 0)
    settings = Settings(
        service=ServiceSettings(rate_per_s=100_000, burst=100_000, unknown_per_s=100_000, unknown_burst=100_000)
    )
    app = create_app(made, settings, replace(listening.link(settings.service), logged=False))
    parts = app.state.served
    if more:
        parts.batcher._desk = Nothing(made)
    secrets = [door_of(parts).admit(f"P-{n}", f"D{n}")[0] for n in range(1, int(people) + 1)]
    stop = Event()
    listens = serving.bound(listening)
    with made, serving.serving(app, listening, listens, stop):
        sys.stdout.write(json.dumps({"port": listens.getsockname()[1], "sessions": secrets}) + "\n")
        sys.stdout.flush()
        sys.stdin.read()


if __name__ == "__main__":
    main(*sys.argv[1:])
