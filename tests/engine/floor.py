"""A small department with people, parts in every stage and opened wipes, on a clock that a test moves."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from pathlib import Path

from reprocess.clock import uuid7
from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.wearing import WearStep
from reprocess.department import Department, found_department, open_department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import UnknownSubjectError
from reprocess.record.entry import Entry
from reprocess.record.folding import fold
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing
from reprocess.rules.answer import Answer
from reprocess.rules.asked import Override
from reprocess.rules.sequence import next_steps
from reprocess.shipped import File, files_in, folder
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US, Stage

HERE = Path(__file__).parent
COMPETENCIES = (
    "take-apart", "clean", "disinfect", "dry", "charge", "launder", "inspect", "functional-test", "assemble", "release",
)  # fmt: skip
UNTIL = {"$ALL_UNTIL_2027": "2027-01-01", "$ALL_UNTIL_MIDNIGHT": "2026-03-05", "$ALL_UNTIL_TOMORROW": "2026-03-06"}
FOUNDED_US = 1_772_604_000 * SECOND_US
"""2026-03-04T06:00:00Z, when the department of the tests is founded."""
OPENING_US = 1_772_694_000 * SECOND_US
"""2026-03-05T07:00:00Z, when a test begins."""
LATER_US = 1_893_456_000 * SECOND_US
"""2030-01-01T00:00:00Z, long after any test."""
BADGES = {
    "anna": "B-ANNA",
    "anna's-spare": "B-ANNA-SPARE",
    "ben": "B-BEN",
    "cora": "B-CORA",
    "dan": "B-DAN",
    "erin": "B-ERIN",
    "quillon": "B-QUILLON",
    "nell": "B-NELL",
    "fay": "B-FAY",
    "gus": "B-GUS",
    "hana": "B-HANA",
    "lee": "B-LEE",
    "stranger": "B-NOBODY",
}
"""Short names; `erin` has no competency, `quillon`'s ended at midnight, `lee` works elsewhere, `-` shows no badge."""
INSTRUMENTS = {"flow-indicator": "FI-1", "charger-bay": "BAY-1"}
STEPS_MAX = 40


class BenchClock:
    """Reads the clocks of one node, each of which can be moved without the others.

    `real_us` is the time that really passes. The wall clock is off by `wall_off_us`, the monotonic clock stands
    still while the computer sleeps, and a reboot begins both running clocks anew under another id.
    """

    def __init__(self, wall_us: int) -> None:
        self.start_us = wall_us
        self.real_us = 0
        self.wall_off_us = 0
        self.slept_us = 0
        self.booted_us = -10_000 * SECOND_US
        self.boots = 1
        self.node = "bench-1"
        self.boot_time_clock = True
        self.ids = 0

    def now(self) -> Moment:
        """Returns one reading of all clocks."""
        running = self.real_us - self.booted_us
        return Moment(
            wall_us=self.start_us + self.real_us + self.wall_off_us,
            mono_us=running - self.slept_us,
            running_us=running if self.boot_time_clock else None,
            boot=f"boot-{self.boots}",
            node=self.node,
        )

    def new_id(self) -> str:
        """Returns the next id; ids are counted, so that a test repeats itself exactly."""
        self.ids += 1
        return uuid7(self.start_us // 1000, self.ids)

    def push(self, seconds: float) -> None:
        """Lets time pass."""
        self.real_us += round(seconds * SECOND_US)

    def step_wall(self, seconds: float) -> None:
        """Moves the wall clock alone, as a time server or a hand does."""
        self.wall_off_us += round(seconds * SECOND_US)

    def sleep(self, seconds: float) -> None:
        """Lets time pass while the computer sleeps."""
        self.push(seconds)
        self.slept_us += round(seconds * SECOND_US)

    def reboot(self, seconds: float) -> None:
        """Lets time pass while the computer is off."""
        self.push(seconds)
        self.slept_us = 0
        self.booted_us = self.real_us
        self.boots += 1


@dataclass(slots=True)
class Floor:
    """Is the department of one test: its clock, its people, and what was answered so far."""

    department: Department
    clock: BenchClock
    answers: list[Answer] = field(default_factory=list)

    def ask(
        self,
        request: Request,
        who: str = "anna",
        *,
        second: str | None = None,
        station: str = "BENCH",
        key: str | None = None,
        override: Override | None = None,
        shown: str | None = None,
    ) -> Answer:
        """Returns the answer to one request of somebody at a station."""
        other = BADGES[second] if second is not None else None
        badge, own = None if who == "-" else BADGES[who], key or self.clock.new_id()
        call = Call(request, station, badge, other, own, override=override, shown=shown)
        answer = self.department.desk.take(call)
        self.answers.append(answer)
        return answer

    def item(self, item: str) -> Standing:
        """Returns where an item stands."""
        return self.department.item(item)

    def entries(self, stream: str) -> list[Entry]:
        """Returns every entry of a stream, oldest first."""
        return self.department.history(stream)

    def kinds(self, item: str, since: int = 0) -> list[str]:
        """Returns the kinds of an item's entries after that many."""
        return [entry.kind for entry in self.entries(f"item:{item}")[since:]]

    def workflow(self, item: str) -> Workflow:
        """Returns the workflow of an item's cycle."""
        part = self.department.part(item)
        if part is None:
            raise UnknownSubjectError(item, item=item)
        return part.workflow

    def bring(self, item: str, until: str, *, in_: str = "QAW-1", temp: str = "38") -> None:
        """Takes an item well through its steps until it stands at a stage, or until a step of that name is next."""
        for _ in range(STEPS_MAX):
            standing, workflow = self.item(item), self.workflow(item)
            following = next_steps(workflow, standing, self.clock.now().wall_us)
            if until in {standing.stage, *following}:
                return
            step = workflow.step_named(following[0])
            assert step is not None
            self.do(item, step, in_=in_, temp=temp)

    def do(self, item: str, step: Step, *, in_: str, temp: str) -> None:
        """Does one step well: Anna on the dirty side, Ben on the clean side, Dan releases."""
        who = "anna" if step.zone == "dirty" else "ben"
        if step.reaches is Stage.READY:
            self.clock.push(60)
            self._good(self.ask(asking.Release(item, good_checks(step)), "dan"))
            return
        if step.dwell is None:
            self.clock.push(step.fastest.least_s if step.fastest is not None else 30)
            tool = INSTRUMENTS.get(step.instrument or "")
            done = asking.DoStep(item, step.step, good_checks(step), good_readings(step), good_counts(step), tool)
            self._good(self.ask(done, who, second="dan" if step.two_people else None))
            return
        wet = step.dwell.kind in {"wet-contact", "immersion"}
        degrees = temp if step.dwell.kind == "immersion" else None
        tool = INSTRUMENTS.get(step.instrument or "")
        self._good(self.ask(asking.StartDwell(item, step.step, in_ if wet else None, None, degrees, tool), who))
        opened = self.item(item).dwell
        assert opened is not None
        left = opened.least_s
        while opened.film_s is not None and left > opened.film_s:
            self.clock.push(opened.film_s)
            left -= opened.film_s
            self._good(self.ask(asking.Rewet(item), who))
        self.clock.push(left)
        self._good(self.ask(asking.EndDwell(item, step.step, degrees, good_checks(step), good_readings(step)), who))

    def build(self, kit: str, configuration: str, parts: str, *, gaskets: int = 2, plugs: int = 1) -> Answer:
        """Returns the answer to an assembly by Ben, with every line of its checklist good."""
        step = next(one for one in self.workflow(kit).steps if one.assembles)
        counts = {"gaskets": gaskets, "plugs": plugs}
        return self.ask(asking.Assemble(kit, configuration, tuple(parts.split()), counts, good_checks(step)), "ben")

    def _good(self, answer: Answer) -> None:
        assert answer.accepted, f"{answer.subject} {answer.step}: {[(one.rule, one.key) for one in answer.reasons]}"

    def assert_kept_whole(self, item: str) -> None:
        """Asserts that the standing kept is the fold of the entries (I12)."""
        entries = self.entries(f"item:{item}")
        if entries:
            assert fold(item, entries) == self.item(item)


def good_checks(step: Step | WearStep) -> dict[str, bool]:
    """Returns every line of a checklist answered yes."""
    return {one.check: True for one in step.checks}


def good_readings(step: Step | WearStep) -> dict[str, str]:
    """Returns every reading that must be given, at its limit: limits include equality."""
    named = {one.reading: one for one in step.readings if one.required}
    edges = {name: one.least if one.least is not None else one.most for name, one in named.items()}
    return {name: str(edge if edge is not None else named[name].plausible_least) for name, edge in edges.items()}


def good_counts(step: Step) -> dict[str, int]:
    """Returns every count that is fixed by the file."""
    return {one.count: one.exactly for one in step.counts if one.exactly is not None}


def files() -> list[File]:
    """Returns the files that the project ships and the invented ones of the tests, what others rest on first."""
    found = [*files_in(folder()), *files_in(HERE / "files")]
    return sorted(found, key=lambda file: ["agent", "configuration", "workflow", "profile"].index(str(file.sort)))


def founding_text() -> str:
    """Returns the founding file, every list of competencies written out."""
    text = (HERE / "larkmoor.yaml").read_text(encoding="utf-8")
    for mark, until in UNTIL.items():
        lines = (
            f'{{competency: {one}, since: "2025-01-01", until: "{until}", assessor: Hana Ito}}' for one in COMPETENCIES
        )
        text = text.replace(mark, f"[{', '.join(lines)}]")
    return text


def prepare(folder_: Path) -> None:
    """Makes the department that every test gets a copy of: parts at every stage, two opened wipes."""
    clock = BenchClock(FOUNDED_US)
    with found_department(folder_ / "larkmoor.db", founding_text(), clock=clock, shipped=files()) as department:
        floor = Floor(department, clock)
        until_us = FOUNDED_US + 400 * DAY_S * SECOND_US
        for name, agent in (("QAW-1", "quat-alcohol-wipe"), ("HPW-1", "hydrogen-peroxide-wipe")):
            floor.ask(asking.MakeSolution(name, agent, "LOT-1", until_us))
        _prepare_baths(floor, until_us)
        for item in ("BLW-2", "TUB-2", "TUB-5", "BLT-1", "PRB-2"):
            floor.bring(item, "cleaned")
        for item in ("TUB-3",):
            floor.bring(item, "ready", in_="HYP-0")
        for item in ("HED-3", "HED-7"):
            floor.bring(item, "ready", in_="HPW-1")
        parts = "BLW-3 BLW-7 BLX-3 TUB-7 FLT-3 FLT-4 FLT-7 FLT-8 CAN-1 CAN-2 CAN-3 BAT-3 BAT-7 BLT-3 BLT-7"
        for item in parts.split():
            floor.bring(item, "ready")
        built = floor.build("KIT-7", "three-port-hepa", "BLW-7 TUB-7 HED-7 FLT-7 FLT-8 BAT-7 BLT-7")
        assert built.accepted, built.reasons
        floor.bring("KIT-7", "ready")
        assert clock.now().wall_us < OPENING_US


def _prepare_baths(floor: Floor, until_us: int) -> None:
    floor.ask(asking.MakeSolution("HYP-0", "hypochlorite-50ppm", "LOT-2", until_us))
    floor.ask(asking.TestSolution("HYP-0", "STRIPS-1", until_us, reading="50", read_after_s=80))


def opened(template: Path, folder_: Path) -> Floor:
    """Returns a copy of the prepared department, at seven in the morning of the next day."""
    place = folder_ / "larkmoor"
    shutil.copytree(template, place)
    clock = BenchClock(OPENING_US)
    clock.ids = 1_000_000
    return Floor(open_department(place / "larkmoor.db", clock=clock), clock)
