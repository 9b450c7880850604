"""Half-open intervals: cut to a period, and put into as few rows as they need."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol, TypeVar


class Span(Protocol):
    """Is anything that lasts from one instant until another, that one not included."""

    @property
    def from_us(self) -> int:
        """Returns when it begins."""

    @property
    def until_us(self) -> int:
        """Returns when it is over."""


Some = TypeVar("Some", bound=Span)


def overlaps(one: Span, from_us: int, until_us: int) -> bool:
    """Tells whether an interval has any time in common with `[from_us, until_us)`."""
    return one.from_us < until_us and one.until_us > from_us


def in_rows(spans: Sequence[Some]) -> list[list[Some]]:
    """Returns intervals in rows within which none overlaps another, each row in order of time.

    Each goes into the first row that is free when it begins, the earliest first; that needs as many rows as ever go on
    at once, which is the least possible (interval partitioning, Kleinberg and Tardos, Algorithm Design, section 4.1;
    from memory).
    """
    rows: list[list[Some]] = []
    for one in sorted(spans, key=lambda span: (span.from_us, span.until_us)):
        free = next((row for row in rows if row[-1].until_us <= one.from_us), None)
        if free is None:
            rows.append([one])
        else:
            free.append(one)
    return rows
