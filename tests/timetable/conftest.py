"""Workflows and agents as shipped."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.read import Definition, read_definition
from reprocess.shipped import folder


def shipped(name: str) -> Definition:
    path = folder() / f"{name}.yaml"
    definition = read_definition(path.read_text(encoding="utf-8"), name=path.name)
    assert isinstance(definition, Workflow | Agent)
    return definition


@pytest.fixture(scope="session")
def blower() -> Workflow:
    definition = shipped("blower")
    assert isinstance(definition, Workflow)
    return definition


@pytest.fixture(scope="session")
def respirator() -> Workflow:
    definition = shipped("respirator")
    assert isinstance(definition, Workflow)
    return definition


@pytest.fixture(scope="session")
def agent() -> Callable[[str], Agent]:
    def named(name: str) -> Agent:
        definition = shipped(f"agents/{name}")
        assert isinstance(definition, Agent)
        return definition

    return named
