"""How much of a recall was located, and how soon (H09)."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from reprocess.terms import SECOND_US

LOOKS: Final = (("1 h", 3600), ("24 h", 86_400), ("7 d", 604_800))
"""The ages at which a recall's effectiveness is told (trade practice, no source)."""


@dataclass(frozen=True, slots=True)
class Located:
    """Is how many items were located by an age of the recall; that of the last one told is `now`."""

    age: str
    located: int
    total: int


def effectiveness(located_us: Collection[int | None], committed_us: int, now_us: int) -> list[Located]:
    """Returns how many items were located by each age that has come, and by now.

    Args:
        located_us: when each item was located; None where it was not.
        committed_us: when the recall was committed.
        now_us: the instant of the answer.
    """
    ages = [(age, committed_us + after_s * SECOND_US) for age, after_s in LOOKS]
    told = [*((age, at_us) for age, at_us in ages if at_us <= now_us), ("now", now_us)]
    return [
        Located(age, sum(one is not None and one <= at_us for one in located_us), len(located_us))
        for age, at_us in told
    ]
