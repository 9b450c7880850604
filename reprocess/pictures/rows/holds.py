"""How long holds have been open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from reprocess.record.standing import Standing
from reprocess.terms import DAY_S, SECOND_US

AGES_DAYS: Final = (0, 1, 3, 7, 30)
"""From how many days of 24 hours on each class of age counts (our choice)."""


@dataclass(frozen=True, slots=True, order=True)
class Aged:
    """Is how many holds of one sort are in one class of age, counted from the youngest class, 0."""

    age: int
    sort: str
    holds: int


@dataclass(frozen=True, slots=True)
class HoldRows:
    """Is every open hold counted: by age, then by sort; classes without holds are left out.

    Attributes:
        oldest_us: when the oldest of them was placed; None where there is none.
    """

    at_us: int
    counts: tuple[Aged, ...]
    oldest_us: int | None

    @property
    def total(self) -> int:
        """Returns how many holds are open."""
        return sum(one.holds for one in self.counts)


def holds(items: Iterable[Standing], at_us: int) -> HoldRows:
    """Returns the open holds of some items, counted at an instant."""
    placed = [(one.placed_us, one.sort) for item in items for one in item.holds.values()]
    counted = Counter((age_of(at_us - placed_us), sort) for placed_us, sort in placed)
    counts = sorted(Aged(age, sort, number) for (age, sort), number in counted.items())
    return HoldRows(at_us, tuple(counts), min((placed_us for placed_us, _ in placed), default=None))


def age_of(open_us: int) -> int:
    """Returns the class of age of a hold that has been open for so many microseconds."""
    days = max(0, open_us) // (DAY_S * SECOND_US)
    return max(number for number, least in enumerate(AGES_DAYS) if days >= least)
