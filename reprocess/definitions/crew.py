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


def unnoticed(workflow: Workflow, graph: Graph) -> Iterator[CounterExample]:
    """Yields each `not_by` that the order of the steps leaves open, with the moves.

    The rule looks back at who did the other step. A step that may come first is done by one person, the other one
    afterwards by the same person, and nothing looks forward. Where it rests on the other one, it falls with it, so
    that it cannot come first a second time either.
    """
    order = _order(graph)
    for number in order:
        barred = sum(1 << other for other in order if graph.names[other] in workflow.steps[number].not_by)
        for other in graph.steps_in(barred & ~graph.below(number)):
            yield _told(graph, order, number, other)


def _told(graph: Graph, order: list[int], first: int, then: int) -> CounterExample:
    before = graph.below(first)
    between = graph.below(then) & ~before & ~(1 << first)
    moves = [f"Bo: {graph.names[number]}" for number in order if before >> number & 1]
    moves.append(f"Anna: {graph.names[first]}")
    moves += [f"Bo: {graph.names[number]}" for number in order if between >> number & 1]
    moves.append(f"Anna: {graph.names[then]}")
    one, two = graph.names[first], graph.names[then]
    sentence = f"{one} does not rest on {two}: one person can do {one} and then {two}, unnoticed."
    return CounterExample("people", sentence, one, (graph.situation, *moves))


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
