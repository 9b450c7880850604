"""Who works at Larkmoor, and the hands that take a part through the steps that its workflow asks for."""

from __future__ import annotations

from dataclasses import dataclass, field

from reprocess.clock import StoryClock
from reprocess.definitions.lines import Reading
from reprocess.definitions.model import Step
from reprocess.definitions.wearing import WearStep
from reprocess.department import Bench, Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.rules.answer import Answer
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.terms import Stage

NAMES = {
    "mirela": ("B-MT", "LMG-D1"),
    "oskar": ("B-OL", "LMG-D2"),
    "quillon": ("B-QD", "LMG-D2"),
    "petra": ("B-PV", "LMG-C1"),
    "joss": ("B-JA", "LMG-C2"),
    "hedda": ("B-HQ", "LMG-C2"),
    "bram": ("B-BO", "LMG-C2"),
}
"""Short name to badge and usual station."""

TOOLS = {"flow-indicator": "FI-09", "charger-bay": "BAY-1"}
"""What each sort of instrument is called in the story."""
DIRTY, CLEAN = "mirela", "petra"
STEPS_MAX = 40


@dataclass(slots=True)
class Crew:
    """Is the people of the story at their benches; counts scans and keeps what was refused."""

    department: Department
    clock: StoryClock
    scans: int = 0
    refused: list[Answer] = field(default_factory=list)
    helper: str = "joss"

    def bench(self, who: str, second: str | None = None, station: str | None = None) -> Bench:
        """Returns somebody's bench, with the badge of a second person where one scans too."""
        badge, usual = NAMES[who]
        other = NAMES[second][0] if second is not None else None
        return self.department.station(station or usual, badge=badge, second=other)

    def scan(self, who: str, request: Request, *, second: str | None = None, station: str | None = None) -> Answer:
        """Returns the answer to one scan."""
        answer = self.bench(who, second, station).ask(request)
        self.scans += 1
        if not answer.accepted:
            self.refused.append(answer)
        return answer

    def take(self, item: str, until: str, *, solution: str | None = None) -> None:
        """Takes an item through its next steps until it reaches a stage (or has done a step of that name)."""
        for _ in range(STEPS_MAX):
            part = self._part(item)
            if part.standing.stage == until or until in part.standing.satisfied:
                return
            step = part.workflow.step_named(next_steps(part.workflow, part.standing, self.clock.now().wall_us)[0])
            if step is None:
                return
            self.do(part, step, solution)

    def _part(self, item: str) -> Part:
        part = self.department.part(item)
        if part is None:
            raise KeyError(item)
        return part

    def do(self, part: Part, step: Step, solution: str | None = None) -> None:
        """Does one step well: in its order, by somebody who may, for as long as it takes."""
        item = part.standing.item
        who = DIRTY if step.zone == "dirty" else CLEAN
        if step.reaches is Stage.READY:
            self.clock.push(30)
            self._good(self.scan(self.helper, asking.Release(item, all_good(step), counted(step))))
        elif step.dwell is not None:
            self._dwell(item, step, who, solution)
        else:
            self.clock.push(step.fastest.least_s + 20 if step.fastest is not None else 25)
            tool = TOOLS.get(step.instrument or "")
            done = asking.DoStep(item, step.step, all_good(step), in_limits(step), counted(step), tool)
            self._good(self.scan(who, done))

    def wear(self, who: str, observer: str, item: str) -> None:
        """Puts an assembly on, step by step and well, with somebody who watches where somebody should."""
        wearing = self._part(item).workflow.wearing
        for step in wearing.put_on if wearing is not None else ():
            self.clock.push(40)
            tool = TOOLS.get(step.instrument or "")
            counts = {"gaskets": 2, "plugs": 1} if step.counts else {}
            put_on = asking.PutOn(item, step.step, all_good(step), in_limits(step), counts, tool)
            self._good(self.scan(who, put_on, second=observer if step.observed else None))

    def take_off(self, who: str, observer: str, item: str, seen: tuple[str, ...] = ()) -> None:
        """Takes it off in order."""
        wearing = self._part(item).workflow.wearing
        for step in wearing.take_off if wearing is not None else ():
            self.clock.push(30)
            second = observer if step.observed else None
            self._good(self.scan(who, asking.TakeOff(item, step.step, all_good(step), seen), second=second))

    def _dwell(self, item: str, step: Step, who: str, solution: str | None) -> None:
        temp = "38" if step.dwell is not None and step.dwell.kind == "immersion" else None
        named = solution if temp is not None else self.wipe_for(item)
        wet = step.dwell is not None and step.dwell.kind in {"wet-contact", "immersion"}
        self.clock.push(20)
        start = asking.StartDwell(item, step.step, named if wet else None, None, temp, TOOLS.get(step.instrument or ""))
        self._good(self.scan(who, start))
        opened = self.department.item(item).dwell
        if opened is None:
            return
        left = opened.least_s
        while opened.film_s is not None and left > opened.film_s * 0.8:
            self.clock.push(opened.film_s * 0.75)
            left -= int(opened.film_s * 0.75)
            self._good(self.scan(who, asking.Rewet(item)))
        self.clock.push(left + 2)
        end = asking.EndDwell(item, step.step, temp, all_good(step), in_limits(step))
        self._good(self.scan(who, end))

    def wipe_for(self, item: str) -> str:
        """Returns the opened wipes that this kind of part allows."""
        return "LMG-W2" if item.startswith("HCV") else "LMG-W1"

    @staticmethod
    def _good(answer: Answer) -> None:
        if not answer.accepted:
            told = ", ".join(f"{one.rule} {one.key} {one.facts}" for one in answer.reasons)
            message = f"The story expected {answer.subject} {answer.step} to be accepted: {told}"
            raise RuntimeError(message)


def all_good(step: Step | WearStep) -> dict[str, bool]:
    """Returns a yes to every line of a checklist."""
    return {check.check: True for check in step.checks}


def in_limits(step: Step | WearStep) -> dict[str, str]:
    """Returns a good value for every reading that is asked for."""
    return {one.reading: _inside(one) for one in step.readings if one.required}


def _inside(reading: Reading) -> str:
    if reading.least is not None:
        return str(min(reading.least * 2, reading.most or reading.plausible_most, reading.plausible_most))
    return str(reading.most if reading.most is not None else reading.plausible_most)


def counted(step: Step) -> dict[str, int]:
    """Returns the counts as they must be."""
    return {one.count: one.exactly for one in step.counts if one.exactly is not None}
