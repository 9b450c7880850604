"""Whether two people can do all of a workflow, and one alone cannot do what must be shared (S01, S02, S08).

Persons are compared as the rules do it: everybody who had a hand in a step counts for `not_by` and `not_alone`; of a
step for two people, only the one who does it must not be barred, the second person may be anybody else.
"""

from __future__ import annotations

from collections.abc import Iterator

from reprocess.definitions.graph import Graph
from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.proof import CounterExample

TRIES_MAX = 20_000
"""Most partial assignments of two people that are tried (our choice); the first complete one is usually the first."""


def shared(workflow: Workflow) -> tuple[str, ...]:
    """Returns the names of the steps that one person alone must not do."""
    return tuple(step.step for step in workflow.steps if step.not_by or step.not_alone or step.two_people)


def done_alone(workflow: Workflow, graph: Graph) -> Iterator[CounterExample]:
    """Yields the shortest sequence by which one person does a step and one that bars her from it, each once.

    The person does everything she is not refused. A `not_by` bars her only after she did the other step: where the
    prerequisites allow the other order, nobody would notice.
    """
    masks = [_mask(graph, step.not_by) for step in workflow.steps]
    noted: set[int] = set()
    came_from: dict[int, tuple[int, int]] = {0: (0, 0)}
    waiting = [0]
    for done in waiting:
        for number in graph.steps_in(done):
            if masks[number] & done and number not in noted:
                noted.add(number)
                yield _told(graph, number, masks[number] & done, came_from, done)
        for number in graph.steps_in(graph.possible & ~done):
            step = workflow.steps[number]
            barred = step.two_people or step.not_alone or masks[number] & done
            after = done | 1 << number
            if not barred and not graph.needs[number] & ~done and after not in came_from:
                came_from[after] = (done, number)
                waiting.append(after)


def _mask(graph: Graph, names: tuple[str, ...]) -> int:
    return sum(1 << number for number, name in enumerate(graph.names) if name in names)


def _told(graph: Graph, number: int, both: int, came_from: dict[int, tuple[int, int]], done: int) -> CounterExample:
    moves = []
    while done:
        done, one = came_from[done]
        moves.append(f"Anna: {graph.names[one]}")
    name = graph.names[number]
    sentence = f"One person can do {name} and also {', '.join(graph.named(both))}, by doing {name} first."
    return CounterExample("people", sentence, name, (graph.situation, *reversed(moves)))


def beyond_two(workflow: Workflow, graph: Graph) -> Iterator[CounterExample]:
    """Yields the step at which every way to share the work between two people ends, if there is one."""
    order = _order(graph)
    team = _Team(workflow, graph, order)
    if not team.can_do(0):
        name = graph.names[order[team.furthest]]
        sentence = f"Two people cannot do everything: whoever is left may not do {name}."
        yield CounterExample("people", sentence, name, (graph.situation,))


def _order(graph: Graph) -> list[int]:
    """Returns the steps that can be done, each after those it rests on; the release last."""
    order: list[int] = []
    done = 0
    for _ in graph.names:
        ready = [n for n in graph.steps_in(graph.possible & ~done) if not graph.needs[n] & ~done]
        ready.sort(key=lambda number: bool(graph.release >> number & 1))
        if ready:
            order.append(ready[0])
            done |= 1 << ready[0]
    return order


class _Team:
    """Tries to share the steps between persons 1 and 2, in an order in which they can be done."""

    def __init__(self, workflow: Workflow, graph: Graph, order: list[int]) -> None:
        self.steps: list[Step] = [workflow.steps[number] for number in order]
        self.hands: list[int] = []
        self.furthest = 0
        self.tries = 0

    def can_do(self, place: int) -> bool:
        """Returns whether the steps from this place on can be shared, given who did those before."""
        if place == len(self.steps):
            return True
        self.furthest = max(self.furthest, place)
        last = self.hands[-1] if self.hands else 2
        for person in (1, 2) if last != 1 else (2, 1):
            self.tries += 1
            if self.tries > TRIES_MAX:
                return False
            if self._may(place, person):
                self.hands.append(3 if self.steps[place].two_people else person)
                if self.can_do(place + 1):
                    return True
                self.hands.pop()
        return False

    def _may(self, place: int, person: int) -> bool:
        step = self.steps[place]
        others = 0
        for earlier, hands in zip(self.steps, self.hands, strict=False):
            others |= hands & ~person
            if earlier.step in step.not_by and hands & person:
                return False
        return bool(others) or not step.not_alone
