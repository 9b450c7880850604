"""The story's lines, each at its day and hour; what they come to is kept as facts that a test checks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from reprocess.demo.month.agenda import Work
from reprocess.demo.month.bench_acts import FIRST_NINE, dropped, film, halifax, lapsed, london, third_port
from reprocess.demo.month.days import at
from reprocess.demo.month.doubt_acts import failed_bath, failed_load, recalled_lot, sticking
from reprocess.demo.month.stage import Stage
from reprocess.demo.month.ward_acts import CUT_OFF, immersed, inspector, keep_041, network_down, swapped_tags, who_wore

Act = Callable[[Stage], Work]

ACTS: Final[tuple[tuple[int, Act], ...]] = (
    (at(1, 0, 10), dropped),
    (at(2, 8, 0), film),
    (at(3, 5, 0), third_port),
    (at(3, 22, 0), halifax),
    (at(5, 6, 30), lapsed),
    (at(6, 7, 50), failed_bath),
    (at(8, 6, 0), network_down),
    (at(9, 6, 30), failed_load),
    (at(12, 14, 0), recalled_lot),
    (at(14, 9, 0), sticking),
    (at(20, 10, 0), immersed),
    (at(24, 8, 0), swapped_tags),
    (at(24, 21, 0), london),
    (at(26, 12, 0), keep_041),
    (at(30, 10, 0), inspector),
    (at(33, 9, 0), who_wore),
)
"""When each line of the story happens, by London's clock where no other is named."""


def put_down(stage: Stage) -> None:
    """Puts every act down in the agenda, and keeps what it needs out of the background's reach."""
    stage.background.reserved |= {31, 47, 52, 77, 78, *CUT_OFF, *FIRST_NINE}
    for when_us, act in ACTS:
        stage.agenda.at(when_us, act(stage))
