"""A workflow as bit masks: what each step waits for, what falls with it, what ready needs; one graph a situation.

A situation is a contamination class and whether the item was used before. Prerequisites are read as the engine reads
them (`Workflow.needed_before`, `falling_with`, `mandated_for`); nothing else, the release gate included, is assumed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reprocess.definitions.lines import Failing
from reprocess.definitions.model import Step, Workflow
from reprocess.terms import Stage

ROUTINE = "routine"
"""The contamination class of an item of which nothing special is known."""


@dataclass(frozen=True, slots=True)
class Fall:
    """Is a move that takes satisfied steps away: its words and the mask of what falls."""

    words: str
    mask: int


@dataclass(frozen=True, slots=True)
class Graph:
    """Is what can happen in one situation; bit k of every mask is step k of the file.

    Attributes:
        contamination_class: the class since the last contaminating fact.
        is_used: whether the item was used before.
        names: the steps' names.
        possible: the steps that may be done.
        needs: for each step, the steps that must be satisfied before it.
        falls: the moves that take steps away.
        mandated: the steps that ready needs.
        makers: for each stage after used, the steps that reach it.
    """

    contamination_class: str
    is_used: bool
    names: tuple[str, ...]
    possible: int
    needs: tuple[int, ...]
    falls: tuple[Fall, ...]
    mandated: int
    makers: tuple[tuple[Stage, int], ...]

    @property
    def situation(self) -> str:
        """Returns the situation in words, as the first line of a counter-example."""
        before = "used before" if self.is_used else "never used before"
        return f"an item {before} becomes used, class {self.contamination_class}"

    @property
    def release(self) -> int:
        """Returns the mask of the steps that reach ready."""
        return self.makers[-1][1]

    def steps_in(self, mask: int) -> Iterator[int]:
        """Yields the numbers of the steps in a mask, in the file's order."""
        for number in range(len(self.names)):
            if mask >> number & 1:
                yield number

    def named(self, mask: int) -> list[str]:
        """Returns the names of the steps in a mask."""
        return [self.names[number] for number in self.steps_in(mask)]

    def is_ready(self, satisfied: int) -> bool:
        """Returns whether every stage up to ready is reached."""
        return all(satisfied & mask for _, mask in self.makers)

    def all_from(self, satisfied: int) -> int:
        """Returns everything that is satisfied once no further step can be done, whatever their order."""
        reached, before = satisfied, -1
        while reached != before:
            before = reached
            for number in self.steps_in(self.possible & ~reached):
                if not self.needs[number] & ~reached:
                    reached |= 1 << number
        return reached

    def below(self, number: int) -> int:
        """Returns the mask of the steps that a step rests on, directly or through others."""
        reached, before = self.needs[number], 0
        while reached != before:
            before = reached
            for one in self.steps_in(reached):
                reached |= self.needs[one]
        return reached


def graphs_of(workflow: Workflow) -> tuple[Graph, ...]:
    """Returns the graphs of every class that the file names and of routine, before and after first use.

    Situations in which exactly the same can happen are told once.
    """
    classes = [ROUTINE, *sorted({one for step in workflow.steps for one in step.for_classes})]
    graphs: dict[tuple[object, ...], Graph] = {}
    for is_used in (False, True):
        for name in dict.fromkeys(classes):
            graph = _graph(workflow, name, is_used=is_used)
            graphs.setdefault(_sameness(graph, is_used=is_used and workflow.single_wearer), graph)
    return tuple(graphs.values())


def _sameness(graph: Graph, *, is_used: bool) -> tuple[object, ...]:
    return (is_used, graph.possible, graph.needs, graph.mandated, graph.makers)


def _graph(workflow: Workflow, contamination_class: str, *, is_used: bool) -> Graph:
    steps = workflow.steps
    numbers = {step.step: number for number, step in enumerate(steps)}

    def mask(names: frozenset[str] | tuple[str, ...]) -> int:
        return sum(1 << numbers[name] for name in set(names))

    exists = [not step.for_classes or contamination_class in step.for_classes for step in steps]
    possible = [here and not (step.new_only and is_used) for step, here in zip(steps, exists, strict=True)]
    falls = [Fall(words, mask(workflow.falling_with(name))) for words, name in _ways_back(workflow)]
    return Graph(
        contamination_class=contamination_class,
        is_used=is_used,
        names=tuple(step.step for step in steps),
        possible=sum(1 << number for number, can in enumerate(possible) if can),
        needs=tuple(mask(workflow.needed_before(step, contamination_class)) for step in steps),
        falls=tuple({fall.mask: fall for fall in reversed(falls)}.values()),
        mandated=mask(workflow.mandated_for(contamination_class)),
        makers=tuple(
            (
                stage,
                mask(tuple(s.step for s, here in zip(steps, exists, strict=True) if here and s.reaches is stage)),
            )
            for stage in workflow.stages[1:]
        ),
    )


def failings_of(step: Step) -> Iterator[Failing]:
    """Yields what a step's checks, readings, counts and dwell say about failing, in the file's order."""
    held: list[Failing | None] = [check.failing for check in step.checks]
    held += [reading.failing for reading in step.readings]
    held += [count.failing for count in step.counts]
    held += [step.dwell.failing] if step.dwell is not None else []
    yield from (failing for failing in held if failing is not None)


def _ways_back(workflow: Workflow) -> Iterator[tuple[str, str]]:
    """Yields each way to fall back: words, and the step that falls with all that rests on it."""
    for step in workflow.steps:
        yield f"{step.step} fails", step.step
        for failing in failings_of(step):
            if failing.back_to is not None:
                yield f"{step.step} fails with {failing.defect}: back to {failing.back_to}", failing.back_to
        if step.promptly is not None:
            back_to = step.promptly.back_to
            yield f"{step.step} begins too late: back to {back_to}", back_to
