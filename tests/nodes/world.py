"""A world in which time passes when told: one database with a clock of its own, and computers with theirs.

True time is what the tests judge by; no clock in it is true. Whoever waits lets all the others go on.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.errors import LedgerBusyError
from reprocess.ledger.beacons import Beacon, Look
from reprocess.record.moment import Moment
from reprocess.shared_clock import RENEW_S, SharedClock

SECOND_US = 1_000_000
BEGAN_US = 1_772_694_300_000_000
"""2026-03-05T07:05:00Z."""


@dataclass
class World:
    """Is true time, the database and its tables.

    Attributes:
        true_us: how much time really passed.
        stepped_us: by how much the database's clock was set ahead.
        ppm: by how many parts in a million it goes too fast.
        latency_us: how long a question is on its way, and how long the answer.
        down: whether the database does not answer.
        nodes: all processes at work.
    """

    true_us: int = 0
    stepped_us: int = 0
    ppm: int = 0
    latency_us: tuple[int, int] = (300, 300)
    down: bool = False
    nodes: list[Node] = field(default_factory=list)
    beacons: dict[tuple[str, str], Beacon] = field(default_factory=dict)
    epoch: str | None = None
    epochs: int = 0

    @property
    def clock_us(self) -> int:
        return BEGAN_US + self.true_us + self.true_us * self.ppm // 1_000_000 + self.stepped_us

    def drift_to(self, ppm: int) -> None:
        self.stepped_us += self.true_us * self.ppm // 1_000_000 - self.true_us * ppm // 1_000_000
        self.ppm = ppm

    def pass_us(self, us: int) -> None:
        """Lets time pass; every process that is at work looks at the clock each second."""
        until_us = self.true_us + us
        while self.true_us < until_us:
            self.true_us = min(until_us, self.true_us + SECOND_US // 4)
            for node in list(self.nodes):
                node.beat()

    def pass_s(self, seconds: float) -> None:
        self.pass_us(round(seconds * SECOND_US))


@dataclass
class Machine:
    """Is a computer: a monotonic clock that may drift and that sleep stops, and a wall clock that may be wrong."""

    world: World
    name: str
    boot: str = "boot-1"
    ppm: int = 0
    slept_us: int = 0
    booted_us: int = 0
    wall_off_us: int = 0

    def reboot(self) -> None:
        self.boot = f"boot-{int(self.boot[5:]) + 1}"
        self.booted_us = self.world.true_us
        self.slept_us = 0

    def now(self) -> Moment:
        ran_us = self.world.true_us - self.booted_us
        running_us = 7_000_000 + ran_us + ran_us * self.ppm // 1_000_000
        wall_us = BEGAN_US + self.world.true_us + self.wall_off_us
        return Moment(wall_us, running_us - self.slept_us, running_us, self.boot, self.name)

    def new_id(self) -> str:
        raise AssertionError


@dataclass
class Database:
    """Is what one process asks of the database; while it asks, true time passes."""

    world: World
    node: Node

    def look(self, node: str, boot: str) -> Look:
        going, coming = self.world.latency_us
        self.world.true_us += going
        self._must_answer()
        own = self.world.beacons.get((node, boot))
        found = Look(self.world.clock_us, self.world.epoch, own)
        self.world.true_us += coming
        return found

    def all(self) -> list[Beacon]:
        self._must_answer()
        return list(self.world.beacons.values())

    def testify(self, seen: Beacon) -> None:
        self._must_answer()
        kept = self.world.beacons.get((seen.node, seen.boot))
        if (kept.counter if kept is not None else 0) == seen.counter:
            self.world.beacons[seen.node, seen.boot] = replace(seen, counter=seen.counter + 1)

    def open_epoch(self, before: str | None, seen: Beacon, keep_us: tuple[int, int]) -> bool:
        self._must_answer()
        assert keep_us[0] < self.world.clock_us < keep_us[1]
        if self.world.epoch != before:
            return False
        self.world.epoch = seen.epoch
        self.world.epochs += 1
        kept = self.world.beacons.get((seen.node, seen.boot), seen)
        self.world.beacons[seen.node, seen.boot] = replace(seen, counter=kept.counter + 1)
        return True

    def wait(self, seconds: float) -> None:
        self._must_answer()
        self.world.pass_s(seconds)

    def _must_answer(self) -> None:
        if self.world.down:
            message = "The database cannot be reached; nothing was recorded. Try again."
            raise LedgerBusyError(message)


class Node:
    """Is one process on a machine, with its shared clock; while it is frozen it does nothing."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.world = machine.world
        self.frozen = False
        self.busy = False
        self.beaten_us = self.world.true_us
        self.clock = SharedClock(Database(self.world, self), machine)
        self.world.nodes.append(self)

    def beat(self) -> None:
        if self.frozen or self.busy or self.world.true_us - self.beaten_us < RENEW_S * SECOND_US:
            return
        self.beaten_us = self.world.true_us
        self.busy = True
        try:
            self.clock.renew()
        except LedgerBusyError:
            pass
        finally:
            self.busy = False

    def now(self) -> Moment:
        self.busy = True
        try:
            return self.clock.now()
        finally:
            self.busy = False

    def kill(self) -> None:
        self.world.nodes.remove(self)
