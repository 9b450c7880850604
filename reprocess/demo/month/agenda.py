"""Many hands at once on one clock: each piece of work says how long it waits before its next scan."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Generator
from dataclasses import dataclass, field

from reprocess.clock import StoryClock
from reprocess.terms import SECOND_US

Work = Generator[float, None, None]
"""Work that scans, and yields the seconds until it goes on."""


@dataclass(slots=True)
class Agenda:
    """Is what is to be done when; works that fall on one instant go on in the order in which they were put here."""

    clock: StoryClock
    tick: Callable[[int], None] = lambda _: None
    _waiting: list[tuple[int, int, Work]] = field(default_factory=list)
    _count: int = 0

    def at(self, when_us: int, work: Work) -> None:
        """Puts work down for an instant; what has passed already begins at once."""
        self._count += 1
        heapq.heappush(self._waiting, (max(when_us, self.clock.wall_us), self._count, work))

    def soon(self, work: Work) -> None:
        """Puts work down for now."""
        self.at(self.clock.wall_us, work)

    def run(self, until_us: int) -> None:
        """Lets everything happen that falls before an instant, and moves the clock there."""
        while self._waiting and self._waiting[0][0] < until_us:
            when_us, _, work = heapq.heappop(self._waiting)
            self._move(when_us)
            wait_s = next(work, None)
            if wait_s is not None:
                self.at(self.clock.wall_us + round(wait_s * SECOND_US), work)
        self._move(until_us)

    def _move(self, when_us: int) -> None:
        if when_us > self.clock.wall_us:
            self.clock.push((when_us - self.clock.wall_us) / SECOND_US)
            self.tick(self.clock.wall_us)
