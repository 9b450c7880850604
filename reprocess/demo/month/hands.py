"""The hands of the month: whatever part or kit, through the steps that its own workflow asks for."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from reprocess.definitions.model import Step
from reprocess.demo.crew import all_good, counted, in_limits
from reprocess.demo.month.agenda import Agenda, Work
from reprocess.demo.month.network import STAFF, Staff, parts_of
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.rules.answer import Answer
from reprocess.rules.custody import look_of
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.terms import Stage

STEPS_MAX = 60
SUSPECT_PASSES = 212
"""How many flow tests rest on indicator FI-09 when it is found sticking (invented)."""


@dataclass(slots=True)
class Hands:
    """Is everybody who works in the month; counts scans, and keeps every refusal with when it came."""

    department: Department
    agenda: Agenda
    scans: int = 0
    refused: list[tuple[int, Answer]] = field(default_factory=list)
    flow: dict[str, str] = field(default_factory=lambda: {"LMG": "FI-09", "FEN": "FI-11", "SAL": "FI-13"})
    passes: Counter[str] = field(default_factory=Counter)
    wipes: dict[str, tuple[str, str]] = field(default_factory=dict)
    filters: dict[int, tuple[str, str]] = field(default_factory=dict)

    def scan(self, badge: str, request: Request, *, second: str | None = None, station: str = "LMG-C1") -> Answer:
        """Returns the answer to one scan."""
        answer = self.department.station(station, badge=badge, second=second).ask(request)
        self.scans += 1
        if not answer.accepted:
            self.refused.append((self.agenda.clock.wall_us, answer))
        return answer

    def part(self, item: str) -> Part:
        """Returns an item with its workflow.

        Raises:
            KeyError: it is not on record.
        """
        part = self.department.part(item)
        if part is None:
            raise KeyError(item)
        return part

    def parts(self, number: int) -> tuple[str, ...]:
        """Returns the parts of a kit now, with the filters that replaced its first ones."""
        new = iter(self.filters.get(number, ()))
        return tuple(next(new, item) if item.startswith("FLT") else item for item in parts_of(number))

    def through(self, item: str, until: str, *, solution: str | None = None) -> Work:
        """Takes an item well through its next steps, until it reaches a stage or a step of that name is next."""
        for _ in range(STEPS_MAX):
            part = self.part(item)
            if part.standing.held:
                return
            following = next_steps(part.workflow, part.standing, self.agenda.clock.wall_us)
            if until in {part.standing.stage, *following} or not following:
                return
            step = part.workflow.step_named(following[0])
            if step is None:
                return
            yield from self._step(part, step, solution)

    def _step(self, part: Part, step: Step, solution: str | None) -> Work:
        item, site = part.standing.item, part.standing.site
        staff = STAFF[site]
        if step.reaches is Stage.READY:
            yield 45
            release = asking.Release(item, all_good(step), counted(step))
            self.good(self.scan(staff.releases, release, station=f"{site}-C1"))
        elif step.dwell is not None:
            yield from self._dwell(part, step, staff, solution)
        else:
            yield step.fastest.least_s + 30 if step.fastest is not None else 40
            tool = self._tool(step.instrument, site)
            done = asking.DoStep(item, step.step, all_good(step), in_limits(step), counted(step), tool)
            self.good(self.scan(_whose(staff, step, item), done, station=_where(staff, step)))
            if step.instrument == "flow-indicator" and tool is not None:
                self._passed(site, tool)

    def _passed(self, site: str, tool: str) -> None:
        """Counts a pass, and chooses the next indicator: FI-09 lies nearer, until it has had its share."""
        self.passes[tool] += 1
        if site == "LMG":
            away = self.passes["FI-09"] >= SUSPECT_PASSES or self.passes.total() % 3 == 0
            self.flow[site] = "FI-10" if away else "FI-09"

    def _tool(self, sort: str | None, site: str) -> str | None:
        known = {"flow-indicator": self.flow[site], "charger-bay": f"BAY-{site}", "leak-tester": f"LK-{site}"}
        return known.get(sort or "")

    def _dwell(self, part: Part, step: Step, staff: Staff, solution: str | None) -> Work:
        item, site = part.standing.item, part.standing.site
        dwell = step.dwell
        if dwell is None:
            return
        wet, warm = dwell.kind in {"wet-contact", "immersion"}, dwell.kind == "immersion"
        who, where = _whose(staff, step, item), _where(staff, step)
        named = (solution if warm else self.wipes[site][item.startswith("HCV")]) if wet else None
        temp = "38" if warm else None
        tool = self._tool(step.instrument, site)
        yield 30
        self.good(self.scan(who, asking.StartDwell(item, step.step, named, None, temp, tool), station=where))
        opened = self.department.item(item).dwell
        if opened is None:
            return
        left = float(opened.least_s)
        while opened.film_s is not None and left > opened.film_s * 0.8:
            yield opened.film_s * 0.75
            left -= opened.film_s * 0.75
            self.good(self.scan(who, asking.Rewet(item), station=where))
        yield left + 3
        end = asking.EndDwell(item, step.step, temp, all_good(step), in_limits(step))
        self.good(self.scan(who, end, station=where))

    def build(self, number: int, site: str, *, plugs: int = 1, parts: tuple[str, ...] | None = None) -> Answer:
        """Returns the answer to putting a kit together."""
        kit = f"KIT-{number:03d}"
        step = next(one for one in self.part(kit).workflow.steps if one.assembles)
        counts = {"plugs": plugs, "gaskets": 2}
        request = asking.Assemble(kit, "three-port-hepa", parts or self.parts(number), counts, all_good(step))
        return self.scan(STAFF[site].clean, request, station=f"{site}-C1")

    def kit(self, number: int, site: str) -> Work:
        """Takes every part of a kit to ready, puts them together, tests and releases the kit."""
        for item in self.parts(number):
            self.agenda.soon(self.through(item, Stage.READY))
        for _ in range(STEPS_MAX):
            yield 1800
            stands = [self.department.item(item) for item in self.parts(number)]
            if any(one.held for one in stands):
                return
            if all(one.stage == Stage.READY for one in stands):
                break
        kit = f"KIT-{number:03d}"
        yield from self.through(kit, "assemble")
        if self.department.item(kit).stage == Stage.READY or self.department.item(kit).held:
            return
        yield 240
        self.good(self.build(number, site))
        yield from self.through(kit, Stage.READY)

    def issue(self, number: int, site: str, wearer: str, place: str, *, minutes: int = 200) -> Answer:
        """Returns the answer to an issue, looked over well by whoever takes it."""
        kit = f"KIT-{number:03d}"
        look = look_of(self.part(kit).workflow)
        checks, readings = (all_good(look), in_limits(look)) if look is not None else ({}, {})
        tool = self.flow[site]
        request = asking.IssueItem(
            kit, wearer, place, "care", minutes, checks, readings, {"gaskets": 2, "plugs": 1}, tool
        )
        answer = self.scan(STAFF[site].clean, request, station=f"{site}-HATCH")
        if answer.accepted:
            self._passed(site, tool)
        return answer

    def return_(self, item: str, site: str, *, contamination_class: str = "routine") -> Answer:
        """Returns the answer to a return at the hatch."""
        request = asking.ReturnItem(item, contamination_class=contamination_class)
        return self.scan(STAFF[site].dirty[0], request, station=f"{site}-HATCH")

    @staticmethod
    def good(answer: Answer) -> None:
        """Stops the story where a scan that should have been accepted was not.

        Raises:
            RuntimeError: with every reason.
        """
        if not answer.accepted:
            told = ", ".join(f"{one.rule} {one.key} {one.facts}" for one in answer.reasons)
            message = f"The story expected {answer.subject} {answer.step or answer.asked} to be accepted: {told}"
            raise RuntimeError(message)


def _whose(staff: Staff, step: Step, item: str) -> str:
    """Returns the badge of whoever does a step: the dirty side is shared by item, so that no one does a row at once."""
    if step.zone != "clean":
        return staff.dirty[sum(map(ord, item)) % len(staff.dirty)]
    return staff.clean


def _where(staff: Staff, step: Step) -> str:
    return f"{staff.site}-{'C1' if step.zone == 'clean' else 'D1'}"
