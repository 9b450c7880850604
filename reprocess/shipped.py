"""The workflow, agent, configuration and profile files that ship, and files that a department brings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import assert_never

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.read import Definition, digest_of, read_definition
from reprocess.engine.enrolling import Sort
from reprocess.errors import WrongUseError

FILE_BYTES_MAX = 1024 * 1024
"""A larger file is not a workflow (our choice; the reader's own limit is lower)."""


@dataclass(frozen=True, slots=True)
class File:
    """Is one file as read: its text, its digest, and what it holds or every fault in it."""

    path: Path
    text: str
    digest: str
    holds: Definition | Faults

    @property
    def sort(self) -> Sort | None:
        """Returns what the file is, or None when it cannot be read."""
        return None if isinstance(self.holds, Faults) else named(self.holds)[0]

    @property
    def name(self) -> str:
        """Returns the name that the file gives itself, or the file's own name when it cannot be read."""
        return self.path.name if isinstance(self.holds, Faults) else named(self.holds)[1]


def named(definition: Definition) -> tuple[Sort, str]:
    """Returns what a definition is and what it calls itself."""
    match definition:
        case Workflow():
            return "workflow", definition.workflow
        case Agent():
            return "agent", definition.agent
        case Configuration():
            return "configuration", definition.configuration
        case Profile():
            return "profile", definition.profile
        case _:
            assert_never(definition)


def folder() -> Path:
    """Returns where the shipped files lie: inside an installed wheel, or beside the package in a clone."""
    inside = Path(__file__).parent / "_workflows"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "workflows"


def read_file(path: Path) -> File:
    """Returns one file, read.

    Raises:
        WrongUseError: there is no such file, it is too large, or it is not UTF-8 text.
    """
    try:
        if path.stat().st_size > FILE_BYTES_MAX:
            message = f"{path.name} is larger than {FILE_BYTES_MAX} bytes; that is not a workflow."
            raise WrongUseError(message, path=str(path))
        text = path.read_text(encoding="utf-8")
    except OSError as fault:
        message = f"{path} cannot be read: {fault.strerror or fault}."
        raise WrongUseError(message, path=str(path)) from fault
    except UnicodeDecodeError as fault:
        message = f"{path.name} is not UTF-8 text."
        raise WrongUseError(message, path=str(path)) from fault
    return File(path, text, digest_of(text), read_definition(text, name=path.name))


def files_in(place: Path) -> Iterator[File]:
    """Yields every YAML file under a folder, those in folders of their own before workflows, by name."""
    found = sorted(place.rglob("*.yaml"), key=lambda path: (len(path.relative_to(place).parts) == 1, str(path)))
    for path in found:
        yield read_file(path)
