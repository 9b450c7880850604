"""What a machine can do, and how many of its records are remembered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

RECORDS_KEPT: Final = 200
"""Logger records that a machine remembers, so that none is shown for a second load (our choice)."""


@dataclass(frozen=True, slots=True)
class Programme:
    """Is a programme of a machine: its highest temperature as decimal text, and how long it takes."""

    programme: str
    hottest_c: str
    lasts_s: int
