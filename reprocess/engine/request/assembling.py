"""Assemblies."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.shapes import Checks, Counts


@dataclass(frozen=True, slots=True)
class Assemble:
    """Asks to put ready parts together under an approved configuration (C01-C05, C09, M07).

    `lots` is slot or count to the lot that it was taken from, such as the gaskets' (L12).
    """

    asked: ClassVar[str] = "assemble"
    item: str
    configuration: str
    members: tuple[str, ...]
    counts: Counts = field(default_factory=dict)
    checks: Checks = field(default_factory=dict)
    lots: dict[str, str] = field(default_factory=dict)
