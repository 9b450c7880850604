"""Baths and opened containers."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body


class SolutionMade(Body):
    """Says that a bath was made up or a container opened, from which lot and until when it may be used (L01, L02)."""

    kind: ClassVar[str] = "solution-made"
    agent: str
    digest: str
    form: Literal["bath", "container"]
    site: str
    lot: str
    lot_expiry_us: int
    expires_us: int
    stock_parts: str | None = None
    water_parts: str | None = None
    reading_of_ratio: Literal["1 in n", "1 plus n"] | None = None
    strength_ppm: str | None = None
    water_l: str | None = None
    temp_c: str | None = None


class SolutionTested(Body):
    """Keeps the result of a strip test; an invalid test neither passes nor fails the bath (M05, L08)."""

    kind: ClassVar[str] = "solution-tested"
    valid: bool
    passed: bool
    void_because: str | None = None
    reading: str | None = None
    limit: str | None = None
    unit: str | None = None
    strip_lot: str
    strip_expiry_us: int
    control_run: bool
    read_after_s: int | None = None


class SolutionTouched(Body):
    """Says that an item's contact began in this solution, so that no test can slip past it."""

    kind: ClassVar[str] = "solution-touched"
    item: str
    cycle: int
    step: str


class SolutionToppedUp(Body):
    """Says that a lot was added; the expiry does not move (L04)."""

    kind: ClassVar[str] = "solution-topped-up"
    lot: str
    lot_expiry_us: int
    volume_l: str


class SolutionEnded(Body):
    """Says that a bath was dumped or spilled, or a container is empty, reported dry or closed (L06, L09)."""

    kind: ClassVar[str] = "solution-ended"
    cause: Literal["dumped", "spilled", "empty", "dry", "expired", "failed"]
