"""Exhaustive search over everything that can happen in one situation, shortest sequences first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reprocess.definitions.graph import Graph
from reprocess.definitions.proof import CounterExample

STATES_MAX = 20_000
"""Most states that are searched in one situation (our choice); a chain of 40 steps has 41."""


@dataclass(frozen=True, slots=True)
class Explored:
    """Is what a search reached.

    Attributes:
        graph: the situation that was searched.
        came_from: each set of satisfied steps reached, nearest first, with the set before it and the move in words.
        moves: how many moves were tried.
        is_whole: whether the search came to its end.
    """

    graph: Graph
    came_from: dict[int, tuple[int, str]]
    moves: int
    is_whole: bool

    def moves_to(self, satisfied: int) -> tuple[str, ...]:
        """Returns the shortest sequence that leads to a set, in words."""
        moves: list[str] = []
        while satisfied:
            satisfied, words = self.came_from[satisfied]
            moves.append(words)
        return (self.graph.situation, *reversed(moves))


def explored(graph: Graph) -> Explored:
    """Returns everything that can be reached from used by steps, failures and contaminating facts.

    Condemnation ends a history and so reaches no further set; it is counted as a move from each.
    """
    came_from: dict[int, tuple[int, str]] = {0: (0, "")}
    waiting = [0]
    moves = 0
    for satisfied in waiting:
        for words, after in _moves(graph, satisfied):
            moves += 1
            if after not in came_from:
                came_from[after] = (satisfied, words)
                waiting.append(after)
        if len(came_from) > STATES_MAX:
            return Explored(graph, came_from, moves, is_whole=False)
    return Explored(graph, came_from, moves + len(came_from), is_whole=True)


def _moves(graph: Graph, satisfied: int) -> Iterator[tuple[str, int]]:
    for number in graph.steps_in(graph.possible & ~satisfied):
        if not graph.needs[number] & ~satisfied:
            yield graph.names[number], satisfied | 1 << number
    for fall in graph.falls:
        if satisfied & fall.mask:
            yield fall.words, satisfied & ~fall.mask
    if satisfied:
        yield "contaminated again", 0


def bypasses(seen: Explored) -> Iterator[CounterExample]:
    """Yields, for each mandated step, the shortest sequence that releases the item without it (I1)."""
    graph = seen.graph
    noted = 0
    for satisfied in seen.came_from:
        missing = graph.mandated & ~satisfied & ~noted if satisfied & graph.release else 0
        for number in graph.steps_in(missing):
            name = graph.names[number]
            sentence = f"The item can be released without {name}."
            yield CounterExample("mandated", sentence, name, seen.moves_to(satisfied))
        noted |= missing


def out_of_order(seen: Explored) -> Iterator[CounterExample]:
    """Yields the nearest set that holds a step without one of its prerequisites, if there is one."""
    graph = seen.graph
    for satisfied in seen.came_from:
        for number in graph.steps_in(satisfied):
            lacking = graph.named(graph.needs[number] & ~satisfied)
            if lacking:
                name = graph.names[number]
                sentence = f"{name} can stand without {', '.join(lacking)}, on which it rests."
                yield CounterExample("mandated", sentence, name, seen.moves_to(satisfied))
                return


def traps(seen: Explored) -> Iterator[CounterExample]:
    """Yields the nearest set from which no steps lead to ready any more, if there is one."""
    graph = seen.graph
    for satisfied in seen.came_from:
        reached = graph.all_from(satisfied)
        if not graph.is_ready(reached):
            stuck = graph.named(graph.mandated & ~reached)
            because = f"these cannot be done: {', '.join(stuck)}" if stuck else "a stage is never reached"
            sentence = f"Ready cannot be reached: {because}."
            yield CounterExample("exits", sentence, None, seen.moves_to(satisfied))
            return


def worn_and_ready(seen: Explored) -> Iterator[CounterExample]:
    """Yields the nearest set in which a one-wearer item is released after its first use, if there is one (U09)."""
    graph = seen.graph
    for satisfied in seen.came_from:
        if satisfied & graph.release:
            sentence = "An item for one wearer can be released again after its first use."
            yield CounterExample("one-wearer", sentence, None, seen.moves_to(satisfied))
            return
