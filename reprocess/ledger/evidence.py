"""Whether every release on record names the evidence that it needs (I1), judged from the entries alone.

Written apart from the engine's gate and from the fold of standings, so that a fault in either is found here: this
file knows only which entries satisfy a step, which take one away, and which steps the released workflow mandates.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field

from reprocess.definitions.model import Step, Workflow
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body

WorkflowOf = Callable[[str], Workflow | None]
"""Returns the workflow of a digest, or None when no such text was ever published or it is no workflow."""


@dataclass(frozen=True, slots=True)
class Unproven:
    """Is one release that does not stand on its evidence: its number in the feed, and what is wrong."""

    feed: int
    sentence: str


@dataclass(slots=True)
class _Cycle:
    """Is what stands satisfied at one point of an item's stream, by which entry."""

    number: int = 0
    digest: str = ""
    contamination_class: str = "routine"
    satisfied: dict[str, int] = field(default_factory=dict)
    running: str | None = None
    holds: set[str] = field(default_factory=set)

    def take(self, entry: Entry) -> None:
        """Takes in one entry that was not undone."""
        body = entry.body
        match body:
            case words.ItemCommissioned():
                self._begin(1, body.digest, "routine")
            case words.ItemContaminated():
                self._begin(body.cycle, body.digest, body.contamination_class)
            case words.DelayFound():
                self.contamination_class = body.contamination_class
            case words.StepDone() | words.ItemReleased():
                self._satisfy(body.step, entry.number)
            case words.HoldPlaced():
                self.holds.add(body.hold)
            case words.HoldLifted():
                self.holds.discard(body.hold)
            case words.ItemSentToRepair() | words.ItemCondemned() | words.ItemLost():
                self._begin(self.number, self.digest, self.contamination_class)
            case _:
                self._clocked(entry, body)

    def _clocked(self, entry: Entry, body: Body) -> None:
        match body:
            case words.DwellStarted():
                self.running = body.step
            case words.DwellBroken():
                self.running = None
            case words.DwellEnded():
                self._satisfy(body.step, entry.number)
            case words.StepFailed() | words.StepsFell() | words.EntryCorrected():
                self._fall(body.fell)
            case words.CycleMoved():
                self._fall(body.fell)
                self.digest = body.digest
            case _:
                pass

    def _begin(self, number: int, digest: str, contamination_class: str) -> None:
        self.number, self.digest, self.contamination_class = number, digest, contamination_class
        self.satisfied = {}
        self.running = None

    def _satisfy(self, step: str, number: int) -> None:
        self.satisfied[step] = number
        if self.running == step:
            self.running = None

    def _fall(self, fell: Collection[str]) -> None:
        for step in fell:
            self.satisfied.pop(step, None)
        if self.running in fell:
            self.running = None


def unproven(entries: Sequence[Entry], workflow_of: WorkflowOf) -> Iterator[Unproven]:
    """Yields what is wrong with the releases of one item, given all entries of its stream, oldest first.

    A release is judged on what stood before it; that it was undone or voided later takes nothing away from that.
    """
    undone: set[int] = set()
    cycle = _Cycle()
    for place, entry in enumerate(entries):
        body = entry.body
        if isinstance(body, words.EntryUndone):
            undone.update(body.numbers)
            cycle = _replayed(entries[:place], undone)
            continue
        if isinstance(body, words.ItemReleased):
            for wrong in _wrong(body, cycle, workflow_of(body.digest)):
                yield Unproven(entry.feed, f"{entry.stream}/{entry.number} calls the item ready, but {wrong}")
        cycle.take(entry)


def _replayed(entries: Sequence[Entry], undone: Collection[int]) -> _Cycle:
    cycle = _Cycle()
    for entry in entries:
        if entry.number not in undone and not isinstance(entry.body, words.EntryUndone):
            cycle.take(entry)
    return cycle


def _wrong(body: words.ItemReleased, cycle: _Cycle, workflow: Workflow | None) -> Iterator[str]:
    if workflow is None:
        yield f"its workflow {body.digest[:12]} was never published"
        return
    if body.digest != cycle.digest:
        yield f"it was judged by {body.digest[:12]}, and its cycle began under {cycle.digest[:12]}"
    if body.cycle != cycle.number:
        yield f"it names cycle {body.cycle}, and this is cycle {cycle.number}"
    if cycle.holds:
        yield f"these holds were open: {', '.join(sorted(cycle.holds))}"
    if cycle.running is not None:
        yield f"the clock of {cycle.running} was still running"
    for step, number in sorted(body.evidence.items()):
        if cycle.satisfied.get(step) != number:
            yield f"entry {number} is no evidence for {step}: undone, fallen, of another cycle, or never there"
    yield from _missing(body, cycle, workflow)


def _missing(body: words.ItemReleased, cycle: _Cycle, workflow: Workflow) -> Iterator[str]:
    of_class = [step for step in workflow.steps if _applies(step, cycle.contamination_class)]
    names = {step.step for step in of_class}
    for step in of_class:
        if step.step == body.step:
            needed_at: int | None = None
        elif step.step in body.evidence:
            needed_at = body.evidence[step.step]
        elif step.mandated:
            yield f"it names no evidence for {step.step}"
            continue
        else:
            continue
        for before in step.after:
            at = body.evidence.get(before)
            if before in names and (at is None or (needed_at is not None and at > needed_at)):
                yield f"{before} does not stand before {step.step}"


def _applies(step: Step, contamination_class: str) -> bool:
    return not step.for_classes or contamination_class in step.for_classes
