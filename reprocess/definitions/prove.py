"""Proof that a workflow has no way round: exhaustive search, with the shortest counter-example where it fails."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pydantic import BaseModel

from reprocess.definitions import crew, labels, search, structure
from reprocess.definitions.graph import ROUTINE, Graph, graphs_of
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.proof import PROPERTIES, CounterExample, Proof, as_text
from reprocess.definitions.search import Explored
from reprocess.definitions.shapes import name_key
from reprocess.terms import Digest

__all__ = ["CounterExample", "Proof", "as_text", "prove"]

_NAMED_FIRST = frozenset({"names", "order"})


def prove(workflow: Workflow, agents: Mapping[str, Agent], *, digest: Digest) -> Proof:
    """Returns what holds of a workflow and what does not, over everything that can happen to its item.

    A name that nothing has and a circle of prerequisites are told alone: a search over them would prove nothing.

    Args:
        workflow: the workflow to judge.
        agents: every known agent by name.
        digest: SHA-256 of the workflow's text, which the proof names.
    """
    wrong = [*structure.name_faults(workflow, agents), *structure.circles(workflow)]
    if wrong:
        failed = {one.fails for one in wrong}
        proved = tuple(key for key in PROPERTIES if key in _NAMED_FIRST - failed)
        notes = ("nothing was searched: a name or the order of the steps must be put right first",)
        return _proof(workflow, digest, (0, 0, None), proved, notes, wrong)
    graphs = graphs_of(workflow)
    searches = _searches(graphs)
    # The same fault in several situations is told once, with the shortest moves of the first.
    told: dict[tuple[str, str], CounterExample] = {}
    for one in _wrong(workflow, agents, searches):
        told.setdefault((one.fails, one.sentence), one)
    failed = {one.fails for one in told.values()}
    states = sum(len(seen.came_from) for seen in searches)
    moves = sum(seen.moves for seen in searches)
    return _proof(
        workflow,
        digest,
        (states, moves, _least_s(workflow, graphs, agents)),
        tuple(key for key in PROPERTIES if key not in failed),
        _notes(workflow),
        list(told.values()),
    )


def _searches(graphs: tuple[Graph, ...]) -> list[Explored]:
    """Returns the search of each situation; those after one that is too large are left out."""
    searches: list[Explored] = []
    for graph in graphs:
        searches.append(search.explored(graph))
        if not searches[-1].is_whole:
            break
    return searches


def _proof(
    workflow: Workflow,
    digest: Digest,
    counted: tuple[int, int, int | None],
    proved: tuple[str, ...],
    notes: tuple[str, ...],
    wrong: list[CounterExample],
) -> Proof:
    states, moves, least_s = counted
    used = {name for step in workflow.steps if step.dwell is not None for name in step.dwell.agents}
    told = list(PROPERTIES)
    return Proof(
        workflow=workflow.workflow,
        digest=digest,
        agents=tuple(sorted(used)),
        states=states,
        moves=moves,
        least_s=least_s,
        proved=proved,
        notes=notes,
        counter_examples=tuple(sorted(wrong, key=lambda one: told.index(one.fails))),
    )


def _wrong(workflow: Workflow, agents: Mapping[str, Agent], searches: list[Explored]) -> Iterator[CounterExample]:
    yield from structure.release_faults(workflow)
    yield from structure.loop_faults(workflow)
    yield from structure.recurring_faults(workflow)
    yield from structure.hold_faults(workflow)
    yield from labels.contact_faults(workflow, agents)
    for seen in searches:
        yield from structure.stage_faults(workflow, seen.graph)
        yield from structure.disinfection_faults(workflow, seen.graph)
        yield from search.bypasses(seen)
        if seen.is_whole:
            yield from _searched(workflow, seen)
        else:
            sentence = f"More than {search.STATES_MAX} states; put more steps after one another."
            yield CounterExample("size", sentence)


def _searched(workflow: Workflow, seen: Explored) -> Iterator[CounterExample]:
    yield from search.out_of_order(seen)
    yield from crew.unnoticed(workflow, seen.graph)
    yield from crew.beyond_two(workflow, seen.graph)
    if workflow.single_wearer and seen.graph.is_used:
        yield from search.worn_and_ready(seen)
    else:
        yield from search.traps(seen)


def _least_s(workflow: Workflow, graphs: tuple[Graph, ...], agents: Mapping[str, Agent]) -> int | None:
    """Returns the longest chain of least times that release waits for, in the quickest situation."""
    times = [labels.least_s(step, agents) for step in workflow.steps]
    found = []
    for graph in graphs:
        if graph.contamination_class != ROUTINE or not graph.release & graph.all_from(0):
            continue
        ended: dict[int, int] = {}
        while len(ended) < len(graph.names):
            ready = [
                n
                for n in range(len(times))
                if n not in ended and all(b in ended for b in graph.steps_in(graph.needs[n]))
            ]
            for number in ready:
                began = max((ended[before] for before in graph.steps_in(graph.needs[number])), default=0)
                ended[number] = began + times[number]
        found.append(max(ended[number] for number in graph.steps_in(graph.release)))
    return min(found, default=None)


def _notes(workflow: Workflow) -> tuple[str, ...]:
    examples = list(_examples(workflow, ""))
    notes = []
    if workflow.example:
        notes.append("the whole file is an example; a department confirms its numbers before it relies on them")
    if examples:
        notes.append("numbers that are only examples: " + ", ".join(examples))
    if not crew.shared(workflow):
        notes.append("one person may do every step of this workflow (S01, S02)")
    return tuple(notes)


def _examples(block: BaseModel, path: str) -> Iterator[str]:
    """Yields the path of each block inside that says `example: true`."""
    for key in type(block).model_fields:
        held = getattr(block, key)
        place = f"{path}.{key}" if path else key
        if isinstance(held, BaseModel):
            if getattr(held, "example", False):
                yield place
            yield from _examples(held, place)
        for number, one in enumerate(held if isinstance(held, tuple) else ()):
            if isinstance(one, BaseModel):
                called = f"{place}[{getattr(one, name_key(type(one)), number)}]"
                if getattr(one, "example", False):
                    yield called
                yield from _examples(one, called)
