"""Reads and proves files, alone or against what a department has in force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from reprocess.definitions import faults, proof
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.proof import Proof
from reprocess.definitions.prove import prove
from reprocess.department import Department
from reprocess.engine.enrolling import Sort
from reprocess.errors import DefinitionError
from reprocess.shipped import File, files_in, folder, read_file
from reprocess.terms import Digest


@dataclass(frozen=True, slots=True)
class Checked:
    """Is what reading and proving one file came to; `proof` only for a workflow that could be read."""

    file: File
    proof: Proof | None

    @property
    def sound(self) -> bool:
        """Tells whether the file has no fault and, if it is a workflow, every property holds."""
        if isinstance(self.file.holds, Faults):
            return False
        return self.proof is None or self.proof.is_sound


def gathered(paths: Iterable[Path]) -> list[File]:
    """Returns the files named, folders searched through; the shipped ones where nothing is named."""
    given = list(paths)
    if not given:
        return list(files_in(folder()))
    found: list[File] = []
    for path in given:
        found += files_in(path) if path.is_dir() else [read_file(path)]
    return found


def checked(files: list[File]) -> list[Checked]:
    """Returns each file with its proof; labels are those of the files, else the shipped ones."""
    agents = agents_of(files_in(folder())) | agents_of(files)
    return [_checked(file, agents) for file in files]


def agents_of(files: Iterable[File]) -> dict[str, Agent]:
    """Returns the agents among the files, by name."""
    return {file.holds.agent: file.holds for file in files if isinstance(file.holds, Agent)}


def _checked(file: File, agents: Mapping[str, Agent]) -> Checked:
    if isinstance(file.holds, Workflow):
        return Checked(file, prove(file.holds, agents, digest=Digest(file.digest)))
    return Checked(file, None)


def told(one: Checked) -> str:
    """Returns what checking one file came to, as text for a person."""
    if isinstance(one.file.holds, Faults):
        return faults.as_text(one.file.holds)
    if one.proof is None:
        return f"{one.file.name}: read, {one.file.sort}, digest {one.file.digest[:12]}"
    return proof.as_text(one.proof)


def sound_or_raise(file: File, department: Department) -> Sort:
    """Returns what the file is, when it may be published.

    Raises:
        DefinitionError: it has faults, or a property of the workflow does not hold; every one is told.
    """
    agents = agents_of(files_in(folder())) | department.agents() | agents_of([file])
    one = _checked(file, agents)
    if not one.sound or file.sort is None:
        raise DefinitionError(told(one), path=str(file.path))
    return file.sort
