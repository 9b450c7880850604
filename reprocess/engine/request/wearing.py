"""Putting on, wearing and taking off."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.shapes import Checks, Counts, Readings


@dataclass(frozen=True, slots=True)
class PutOn:
    """Asks to go on putting on an assembly: one step of its sequence, looked at by whoever will wear it (U03)."""

    asked: ClassVar[str] = "put-on"
    item: str
    step: str
    checks: Checks = field(default_factory=dict)
    readings: Readings = field(default_factory=dict)
    counts: Counts = field(default_factory=dict)
    instrument: str | None = None


@dataclass(frozen=True, slots=True)
class TakeOff:
    """States the fact that a step of taking an assembly off was done, and what was seen on it; never refused."""

    asked: ClassVar[str] = "take-off"
    item: str
    step: str
    checks: Checks = field(default_factory=dict)
    traces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TellSignal:
    """States what a wearer heard, saw or felt; never refused."""

    asked: ClassVar[str] = "tell-signal"
    item: str
    signal: str


@dataclass(frozen=True, slots=True)
class SwapPart:
    """Asks to change a part of an assembly while it is worn, such as its battery (U12)."""

    asked: ClassVar[str] = "swap-part"
    item: str
    slot: str
    part: str
    checks: Checks = field(default_factory=dict)
