"""What the clocks said when an entry was written, and how much time two such readings prove.

Elapsed time is judged by three clocks: the wall clock (UTC), the monotonic clock of the system and, where there
is one, the boot-time clock, which goes on while the computer sleeps. The rule (design, section 3):

* one boot of one node: the monotonic clock is observed time and alone counts towards a least time. A wall clock that
  was set back takes nothing away, one that was set forward gives nothing; a leap second does neither (E35). The
  larger of all counts towards a greatest time, since a pause of the computer looks like a step and a film may have
  dried. Where wall and running time differ by more than 2 s + 0.1 %, that is an anomaly and is noted.
* sleep is time that nobody observed;
* across a reboot or another node nothing is observed: the least time proven is zero.
* several nodes on one database share a clock (reprocess/shared_clock.py). It may be off by 2 s + 0.1 % before anybody
  notices, so that much is taken off a least time and added to a greatest one. Readings that nobody can compare carry
  another `boot`, and then nothing is proven.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.terms import SECOND_US

STEP_US = 2 * SECOND_US
"""How far wall and running time may differ before it is an anomaly, beside one part in a thousand."""
SHARED: Final = "shared:"
"""How the `boot` of a reading of the shared clock begins: such readings of different nodes can be compared."""


@dataclass(frozen=True, slots=True)
class Moment:
    """Is one reading of the clocks of one node, in microseconds.

    Attributes:
        wall_us: UTC, since the epoch.
        mono_us: the system-wide monotonic clock, comparable between processes of one boot.
        running_us: the boot-time clock (sleep included), or None where the system has none.
        boot: the id of this boot; of a shared clock, the id of the time in which its readings belong together.
        node: the name of the computer.
    """

    wall_us: int
    mono_us: int
    running_us: int | None
    boot: str
    node: str

    @property
    def shared(self) -> bool:
        """Tells whether the clock is one that several nodes share."""
        return self.boot.startswith(SHARED)

    def as_list(self) -> list[int | str | None]:
        """Returns the reading as a flat list, the form in which standings keep it."""
        return [self.wall_us, self.mono_us, self.running_us, self.boot, self.node]


@dataclass(frozen=True, slots=True)
class Elapsed:
    """Is the time between two readings, as far as it is proven.

    Attributes:
        least_us: what counts towards a least time.
        greatest_us: what counts towards a greatest time.
        unobserved_us: how much of it nobody observed (sleep, reboot, another node).
        wall_us: what the wall clock alone says; may be negative.
        mono_us: what the monotonic clock alone says; zero across boots.
        same_boot: whether both readings come from one boot of one node.
        anomaly: whether the wall clock was stepped between the two.
    """

    least_us: int
    greatest_us: int
    unobserved_us: int
    wall_us: int
    mono_us: int
    same_boot: bool
    anomaly: bool

    @property
    def observed(self) -> bool:
        """Tells whether the whole span was seen by a running clock."""
        return self.same_boot and self.unobserved_us <= tolerance_us(self.greatest_us)


def tolerance_us(span_us: int) -> int:
    """Returns how far two clocks may differ over a span before it counts: 2 s and 0.1 % of it."""
    return STEP_US + abs(span_us) // 1000


def elapsed(start: Moment, end: Moment) -> Elapsed:
    """Returns the time proven between two readings, the earlier one first."""
    wall = end.wall_us - start.wall_us
    mono = end.mono_us - start.mono_us
    if start.shared and start.boot == end.boot and mono >= -STEP_US:
        return _shared(wall, max(0, mono))
    if start.boot != end.boot or start.node != end.node or mono < 0:
        return Elapsed(0, max(wall, 0), max(wall, 0), wall, 0, same_boot=False, anomaly=wall < 0)
    running = mono
    if start.running_us is not None and end.running_us is not None:
        running = max(mono, end.running_us - start.running_us)
    anomaly = abs(wall - running) > tolerance_us(running)
    return Elapsed(
        least_us=mono,
        greatest_us=max(wall, running),
        unobserved_us=running - mono,
        wall_us=wall,
        mono_us=mono,
        same_boot=True,
        anomaly=anomaly,
    )


def _shared(wall: int, span: int) -> Elapsed:
    """Returns the time between two readings of a shared clock, the later of which may be a little before the other."""
    off = tolerance_us(span)
    return Elapsed(
        least_us=max(0, span - off),
        greatest_us=span + off,
        unobserved_us=0,
        wall_us=wall,
        mono_us=span,
        same_boot=True,
        anomaly=False,
    )
