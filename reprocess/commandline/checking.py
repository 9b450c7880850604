"""Reads and proves files, alone or against what a department has in force: workflows, and profiles of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from reprocess.definitions import faults, proof
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.proof import Proof
from reprocess.definitions.prove import prove
from reprocess.definitions.prove_profile import ProfileProof, profile_text, prove_profile
from reprocess.department import Department
from reprocess.engine.enrolling import Sort
from reprocess.errors import DefinitionError
from reprocess.shipped import File, files_in, folder, read_file
from reprocess.terms import Digest


@dataclass(frozen=True, slots=True)
class Checked:
    """Is what reading and proving one file came to; `proof` only for a workflow or profile that could be read."""

    file: File
    proof: Proof | ProfileProof | None

    @property
    def sound(self) -> bool:
        """Tells whether the file has no fault and, if it is a workflow or a profile, every property holds."""
        if isinstance(self.file.holds, Faults):
            return False
        return self.proof is None or self.proof.is_sound


@dataclass(frozen=True, slots=True)
class Grounds:
    """Is what a file is judged against, by name: a workflow against labels, a profile against the other two."""

    agents: Mapping[str, Agent]
    workflows: Mapping[str, Workflow]
    configurations: Mapping[str, Configuration]


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
    """Returns each file with its proof; what it is judged against is among the files, else among the shipped ones."""
    known = [*files_in(folder()), *files]
    grounds = Grounds(agents_of(known), workflows_of(known), _configurations_of(known))
    return [_checked(file, grounds) for file in files]


def agents_of(files: Iterable[File]) -> dict[str, Agent]:
    """Returns the agents among the files, by name."""
    return {file.holds.agent: file.holds for file in files if isinstance(file.holds, Agent)}


def workflows_of(files: Iterable[File]) -> dict[str, Workflow]:
    """Returns the workflows among the files, by name."""
    return {file.holds.workflow: file.holds for file in files if isinstance(file.holds, Workflow)}


def _configurations_of(files: Iterable[File]) -> dict[str, Configuration]:
    return {file.holds.configuration: file.holds for file in files if isinstance(file.holds, Configuration)}


def _checked(file: File, grounds: Grounds) -> Checked:
    digest = Digest(file.digest)
    match file.holds:
        case Workflow():
            return Checked(file, prove(file.holds, grounds.agents, digest=digest))
        case Profile():
            return Checked(file, prove_profile(file.holds, grounds.workflows, grounds.configurations, digest=digest))
        case _:
            return Checked(file, None)


def told(one: Checked) -> str:
    """Returns what checking one file came to, as text for a person."""
    if isinstance(one.file.holds, Faults):
        return faults.as_text(one.file.holds)
    if one.proof is None:
        return f"{one.file.name}: read, {one.file.sort}, digest {one.file.digest[:12]}"
    return proof_text(one.proof)


def proof_text(judged: Proof | ProfileProof) -> str:
    """Returns a proof as one page."""
    return profile_text(judged) if isinstance(judged, ProfileProof) else proof.as_text(judged)


def sound_or_raise(file: File, department: Department) -> Sort:
    """Returns what the file is, when it may be published.

    Raises:
        DefinitionError: it has faults, or a property of the workflow or profile does not hold; every one is told.
    """
    agents = agents_of(files_in(folder())) | department.agents() | agents_of([file])
    workflows = {one.workflow: one for one in department.in_force(Workflow)}
    configurations = {one.configuration: one for one in department.in_force(Configuration)}
    one = _checked(file, Grounds(agents, workflows, configurations))
    if not one.sound or file.sort is None:
        raise DefinitionError(told(one), path=str(file.path))
    return file.sort
