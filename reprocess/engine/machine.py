"""The workflow as a `transitions` machine: it moves and never judges; the only file that imports it.

One machine a workflow version, none an item. It is compiled from what the workflow can do, found by walking its
satisfied sets: one event a step, one for each fall back to an earlier stage, and the moves aside. No conditions, no
callbacks, no strings from a file that could be resolved; names are of a closed alphabet and mapped by us.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum
from functools import lru_cache

from transitions import Machine, MachineError
from transitions import State as NamedState

from reprocess.definitions.model import Workflow
from reprocess.errors import InvariantError
from reprocess.terms import ASIDE, Stage

State = str | Enum | NamedState

__all__ = ["ASIDE_EVENT", "FALL", "Machine", "compiled", "events_of", "moved"]

FALL = "fall to "
ASIDE_EVENT = "set aside as "
STATES_MAX = 200_000
"""Most satisfied sets that are walked; a workflow of 40 steps in a chain has 41."""
MOVES_MAX = 4_096
"""Most moves whose outcome is remembered: a compiled machine never changes, so neither do they."""


class _Holder:
    """Carries the stage through one move and is thrown away."""

    __slots__ = ("state",)

    def __init__(self, state: str) -> None:
        self.state = state


def compiled(workflow: Workflow) -> Machine:
    """Returns the machine of a workflow version.

    Raises:
        InvariantError: the workflow has more satisfied sets than are walked.
    """
    states = [str(stage) for stage in (*workflow.stages, *ASIDE)]
    machine = Machine(model=None, states=states, initial=str(Stage.USED), auto_transitions=False, send_event=False)
    for step, source, dest in sorted(_moves(workflow)):
        machine.add_transition(step, source, dest)
    for number, stage in enumerate(workflow.stages):
        later: list[State] = [str(one) for one in workflow.stages[number:]]
        machine.add_transition(FALL + stage, later, str(stage))
    for stage in ASIDE:
        open_stages: list[State] = [one for one in states if one != str(Stage.CONDEMNED)]
        machine.add_transition(ASIDE_EVENT + stage, open_stages, str(stage))
        if stage is not Stage.CONDEMNED:
            machine.add_transition(FALL + Stage.USED, str(stage), str(Stage.USED))
    return machine


def _moves(workflow: Workflow) -> set[tuple[str, str, str]]:
    classes = {"routine"} | {name for step in workflow.steps for name in step.for_classes}
    found: set[tuple[str, str, str]] = set()
    for contamination_class in sorted(classes):
        found |= _moves_for(workflow, contamination_class)
    return found


def _moves_for(workflow: Workflow, contamination_class: str) -> set[tuple[str, str, str]]:
    steps = [
        (step, frozenset(workflow.needed_before(step, contamination_class)))
        for step in workflow.steps
        if not step.for_classes or contamination_class in step.for_classes
    ]
    found: set[tuple[str, str, str]] = set()
    seen: set[frozenset[str]] = {frozenset()}
    waiting = [frozenset[str]()]
    while waiting:
        satisfied = waiting.pop()
        for step, needed in steps:
            if step.step in satisfied or not needed <= satisfied:
                continue
            after = satisfied | {step.step}
            found.add((step.step, str(workflow.stage_for(satisfied)), str(workflow.stage_for(after))))
            if after not in seen:
                seen.add(after)
                waiting.append(after)
        if len(seen) > STATES_MAX:
            message = f"Workflow {workflow.workflow} has too many orders of its steps to walk."
            raise InvariantError(message, workflow=workflow.workflow)
    return found


@lru_cache(maxsize=MOVES_MAX)
def moved(machine: Machine, stage: str, event: str) -> Stage:
    """Returns the stage after an event; the move itself is the machine's, made once for each machine, stage and event.

    Raises:
        InvariantError: the workflow has no such move from that stage; rules should have refused it before.
    """
    holder = _Holder(str(stage))
    try:
        happened = machine.events[event].trigger(holder)
    except (KeyError, MachineError) as fault:
        message = f"No move {event!r} from stage {stage!r} in this workflow."
        raise InvariantError(message, stage=str(stage), event=event) from fault
    if not happened:
        message = f"The move {event!r} from stage {stage!r} did not happen."
        raise InvariantError(message, stage=str(stage), event=event)
    return Stage(holder.state)


def events_of(machine: Machine) -> Iterable[str]:
    """Returns the names of all events, for the test that no shortcut exists."""
    return sorted(machine.events)
