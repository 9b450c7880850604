"""Baths and opened containers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class MakeSolution:
    """States that a bath was made up or a container opened.

    Attributes:
        lot_expiry_us: the end of the lot's own life.
        hours: in-use life in hours where the site sets a shorter one.
        stock_percent: strength of the stock, mass per volume, where the bath is diluted.
    """

    asked: ClassVar[str] = "make-solution"
    solution: str
    agent: str
    lot: str
    lot_expiry_us: int
    hours: int | None = None
    stock_percent: str | None = None
    stock_parts: str | None = None
    water_parts: str | None = None
    one_in: str | None = None
    water_l: str | None = None
    temp_c: str | None = None


@dataclass(frozen=True, slots=True)
class TestSolution:
    """States what a strip test of a solution showed."""

    __test__: ClassVar[bool] = False
    asked: ClassVar[str] = "test-solution"
    solution: str
    strip_lot: str
    strip_expiry_us: int
    reading: str | None = None
    passed: bool | None = None
    control_run: bool = False
    read_after_s: int | None = None


@dataclass(frozen=True, slots=True)
class TopUpSolution:
    """States that a solution was topped up; its expiry stays (L04)."""

    asked: ClassVar[str] = "top-up-solution"
    solution: str
    lot: str
    lot_expiry_us: int
    volume_l: str


@dataclass(frozen=True, slots=True)
class EndSolution:
    """States that a solution was dumped, spilled, is empty, was reported dry or is closed."""

    asked: ClassVar[str] = "end-solution"
    solution: str
    cause: str
