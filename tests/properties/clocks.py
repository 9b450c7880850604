"""A clock of two computers that can be stepped, put to sleep, restarted and swapped; it knows the true time."""

from __future__ import annotations

import copy

from reprocess.clock import uuid7
from reprocess.record.moment import Moment

SECOND_US = 1_000_000
MORNING_US = 1_774_713_000_000_000
"""2026-03-28T15:50:00Z; the clocks of London go forward in the night that follows."""


class TwoNodes:
    """Keeps the true time and what the clocks of two computers make of it; `south` has no boot-time clock."""

    def __init__(self, true_us: int = MORNING_US, count: int = 0) -> None:
        self.true_us = true_us
        self.count = count
        self.node = "north"
        self.wall_off_us = {"north": 0, "south": 0}
        self.began_us = {"north": true_us - 3_600 * SECOND_US, "south": true_us - 7_200 * SECOND_US}
        self.asleep_us = {"north": 0, "south": 0}
        self.boots = {"north": 1, "south": 1}
        self.steps = 0

    def copy(self) -> TwoNodes:
        """Returns a clock that stands where this one stands and goes its own way."""
        return copy.deepcopy(self)

    def set_as(self, other: TwoNodes) -> None:
        """Takes over all that another clock reads."""
        self.__dict__.update(copy.deepcopy(other.__dict__))

    def now(self) -> Moment:
        """Returns one reading of the clocks of the computer in use."""
        node = self.node
        running = self.true_us - self.began_us[node]
        return Moment(
            wall_us=self.true_us + self.wall_off_us[node],
            mono_us=running - self.asleep_us[node],
            running_us=running if node == "north" else None,
            boot=f"{node}-{self.boots[node]}",
            node=node,
        )

    def new_id(self) -> str:
        """Returns the next id; ids are counted, so that the same script gives the same ids."""
        self.count += 1
        return uuid7(self.true_us // 1000, self.count)

    def push(self, seconds: float) -> None:
        """Lets true time pass."""
        self.true_us += round(seconds * SECOND_US)

    def step(self, seconds: float) -> None:
        """Steps the wall clock of the computer in use, forward or back."""
        self.wall_off_us[self.node] += round(seconds * SECOND_US)
        self.steps += 1

    def sleep(self, seconds: float) -> None:
        """Lets true time pass while the computer in use sleeps."""
        self.push(seconds)
        self.asleep_us[self.node] += round(seconds * SECOND_US)

    def reboot(self, seconds: float) -> None:
        """Lets true time pass while the computer in use starts anew."""
        self.push(seconds)
        self.boots[self.node] += 1
        self.began_us[self.node] = self.true_us - 5 * SECOND_US
        self.asleep_us[self.node] = 0

    def swap(self) -> None:
        """Works on at the other computer."""
        self.node = "south" if self.node == "north" else "north"
