"""The workflows, agents and configurations that the project ships, by name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.lines import Failing, Reading
from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.read import Definition, read_definition
from reprocess.definitions.times import Dwell
from reprocess.shipped import named

FOLDER = Path(__file__).resolve().parents[2] / "workflows"


@dataclass(frozen=True, slots=True)
class Shipped:
    """Everything under `workflows/`, in the order of the file names."""

    workflows: tuple[Workflow, ...]
    agents: tuple[Agent, ...]
    configurations: tuple[Configuration, ...]

    @classmethod
    def read(cls) -> Shipped:
        """Reads every file; one that cannot be read is told with all its faults."""
        held = {path: definition_in(path) for path in sorted(FOLDER.rglob("*.yaml"))}
        return cls(
            tuple(one for one in held.values() if isinstance(one, Workflow)),
            tuple(one for one in held.values() if isinstance(one, Agent)),
            tuple(one for one in held.values() if isinstance(one, Configuration)),
        )

    def workflow(self, name: str) -> Workflow:
        return next(one for one in self.workflows if one.workflow == name)

    def agent(self, name: str) -> Agent:
        return next(one for one in self.agents if one.agent == name)

    def configuration(self, name: str) -> Configuration:
        return next(one for one in self.configurations if one.configuration == name)


def definition_in(path: Path) -> Definition:
    """Returns what a file holds; the file is named after it."""
    held = read_definition(path.read_text(encoding="utf-8"), name=path.name)
    assert not isinstance(held, Faults), as_text(held)
    name = named(held)[1]
    assert name == path.stem, f"{path.name} holds {name}"
    return held


def step_of(workflow: Workflow, name: str) -> Step:
    step = workflow.step_named(name)
    assert step is not None, f"{workflow.workflow} has no step {name}"
    return step


def dwell_of(workflow: Workflow, name: str) -> Dwell:
    dwell = step_of(workflow, name).dwell
    assert dwell is not None, f"{workflow.workflow} has no clock on {name}"
    return dwell


def reading_of(workflow: Workflow, step: str, name: str) -> Reading:
    return next(one for one in step_of(workflow, step).readings if one.reading == name)


def text_of(workflow: Workflow, step: str, check: str) -> str:
    return next(one.text for one in step_of(workflow, step).checks if one.check == check)


def failings_in(block: object) -> Iterator[Failing]:
    if isinstance(block, Failing):
        yield block
    elif isinstance(block, BaseModel):
        for name in type(block).model_fields:
            yield from failings_in(getattr(block, name))
    elif isinstance(block, tuple):
        for one in block:
            yield from failings_in(one)
