"""Every file that the project ships can be read and is proved, quickly."""

import sys
import time
from pathlib import Path

import pytest

from reprocess.definitions.draw import mermaid, table
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.proof import PROPERTIES
from reprocess.definitions.proof import as_text as page_of
from reprocess.definitions.prove import prove
from reprocess.definitions.read import Definition, digest_of, line_of_step, read_definition

FILES = sorted((Path(__file__).resolve().parents[2] / "workflows").rglob("*.yaml"))
CHECK_S_MOST = 2.0 if sys.gettrace() is None else 20.0
"""All files are read and proved within this CPU time; a run that traces every line for coverage may take longer."""


def text_of(file: Path) -> str:
    return file.read_bytes().decode()


def definition_in(file: Path) -> Definition:
    read = read_definition(text_of(file), name=file.name)
    assert not isinstance(read, Faults), as_text(read)
    return read


@pytest.fixture(scope="module")
def agents() -> dict[str, Agent]:
    held = [definition_in(file) for file in FILES]
    return {one.agent: one for one in held if isinstance(one, Agent)}


@pytest.mark.parametrize("file", FILES, ids=[file.stem for file in FILES])
def test_a_shipped_file_is_read_and_proved(file: Path, agents: dict[str, Agent]) -> None:
    held = definition_in(file)
    if not isinstance(held, Workflow):
        return
    proof = prove(held, agents, digest=digest_of(text_of(file)))
    assert proof.is_sound, page_of(proof)
    assert proof.proved == tuple(PROPERTIES)
    assert proof.digest in page_of(proof)


@pytest.mark.parametrize("file", FILES, ids=[file.stem for file in FILES])
def test_a_shipped_workflow_is_drawn_with_every_step(file: Path, agents: dict[str, Agent]) -> None:
    held = definition_in(file)
    if not isinstance(held, Workflow):
        return
    rows = table(held, agents).splitlines()
    assert len(rows) == 2 + len(held.steps)
    for step in held.steps:
        assert mermaid(held).count(f"<b>{step.step}</b>") == 1
        assert text_of(file).splitlines()[line_of_step(text_of(file), step.step) - 1].endswith(f"step: {step.step}")


def test_all_files_together_are_checked_within_two_seconds() -> None:
    began_s = time.process_time()
    held = [definition_in(file) for file in FILES]
    labels = {one.agent: one for one in held if isinstance(one, Agent)}
    for one in held:
        if isinstance(one, Workflow):
            prove(one, labels, digest=digest_of(""))
    assert time.process_time() - began_s < CHECK_S_MOST
