"""Whether a department works on confirmed sources, and what is missing where it does not (trade 8.3)."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from typing import ClassVar, Literal

from reprocess.record.places import Published

UNCONFIRMED = "nobody confirmed its sources"
EXAMPLES = "it holds example numbers"


@dataclass(frozen=True, slots=True)
class ConfirmSources:
    """Asks to keep that a named person compared every number of a file in force with its source."""

    asked: ClassVar[str] = "confirm-sources"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    statement: str


@dataclass(frozen=True, slots=True)
class Missing:
    """Is one reason why a department does not work on confirmed sources."""

    sort: str
    name: str
    digest: str
    why: str


def missing(files: Iterable[Published], examples: Set[str]) -> tuple[Missing, ...]:
    """Returns what is missing, file by file; nothing where the department is live.

    Args:
        files: the standing of every file.
        examples: the digests of the texts that hold a number marked as an example.
    """
    found = []
    for one in files:
        if one.in_force is None:
            continue
        if one.confirmed != one.in_force:
            found.append(Missing(one.sort, one.name, one.in_force, UNCONFIRMED))
        if one.in_force in examples:
            found.append(Missing(one.sort, one.name, one.in_force, EXAMPLES))
    return tuple(found)
