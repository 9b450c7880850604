"""What requests have in common that go beyond the cycle of one item."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class Further:
    """Is the base of the requests about custody, loads, lots, recalls and people.

    Each family decides its own requests (`engine.decide.FURTHER`) and reads its own scene (`gathering.scenes.FURTHER`).
    """

    asked: ClassVar[str]
