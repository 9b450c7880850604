"""One clock for all nodes of a department on PostgreSQL: the database's, as each node's own monotonic clock carries it.

A contact begun at one node is confirmed at another, so their readings must be comparable. Every node keeps how far
the database's clock is from its own monotonic clock, looks again every second, and reads its own clock plus that.

* **Epoch.** Readings are comparable within an epoch, whose id lies in the database and stands in each reading's
  `boot`. Whoever opens another one lets every contact that runs begin again: time that nobody proves does not count.
* **Corridor.** A node compares each look with all its earlier ones: they may differ by 1.5 s and by one part in a
  thousand of the time between, so that many small steps count as one large one. With the error of two readings
  (0.1 s each) and of one that joins, what is proven between two readings is off by less than 2 s and 0.1 %, which
  `record.moment` takes off.
* **Witness.** Who starts knows nothing of the time before. It goes on in the epoch where an earlier beacon of its own
  computer, in the same boot and with no sleep since, fits; or where another computer testifies twice while it looks
  on. Otherwise nobody saw whether the database's clock was stepped, and a new epoch begins.
* **Doubt.** A node that finds a step says so in its beacon, then asks the others: where they saw none, its own clock
  was the wrong one (its machine was stopped), and it joins them again. Where none is left, a new epoch begins.
* **What is left.** A virtual machine that is stopped whole, all its clocks with it, notices that only when it looks
  next, a second later; a start that it stamps in that second is early by the pause.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from typing import Final, Protocol

from reprocess.clock import Clock, random_id
from reprocess.errors import LedgerBusyError, ReprocessError
from reprocess.ledger.beacons import IN_DOUBT, Beacon, Beacons, Look
from reprocess.ledger.open import Ledger
from reprocess.record.moment import SHARED, STEP_US, Moment
from reprocess.terms import SECOND_US

RENEW_S: Final = 1.0
"""How often a node looks at the database's clock (our choice)."""
LOOK_US: Final = 2_500_000
"""After so long without a look, one is made before the time is told, where nobody looks all the time."""
STALE_US: Final = 10 * SECOND_US
"""How long a node goes on with its last look where the database does not answer (our choice)."""
LIMIT_US: Final = 1_500_000
"""How far two looks of an epoch may differ, beside the drift; three quarters of what `record.moment` takes off."""
DRIFT: Final = 1000
"""One part in so many may clocks drift against each other: twice what a clock is allowed that is being corrected
(500 parts in a million: `man 2 adjtimex`, MAXFREQ in the Linux kernel)."""
ERROR_US_MAX: Final = 100_000
"""A look whose answer takes longer than twice this proves too little (our choice)."""
GOOD_US: Final = 2_000
TRIES: Final = 5
"""Looks that are made until one of them is good; then the best of them counts."""
ASLEEP_US: Final = SECOND_US
"""A computer that slept for longer than this saw nothing meanwhile."""
ALIVE_US: Final = 5 * SECOND_US
"""A beacon that is older is not waited for."""
WAIT_S: Final = 0.25
WAITS: Final = 32
"""How long and how often a node that joins waits for another's beacon: eight seconds at most."""
TWICE: Final = 2
JOINS_MAX: Final = 5
"""Nodes that may be faster in opening an epoch before one gives up for now."""
BEACON_US: Final = 30 * 86_400 * SECOND_US
"""How old a beacon may be before it goes (our choice)."""
DISAGREE: Final = "The nodes do not agree on the time just now; nothing was recorded. Try again."
UNKNOWN: Final = "The database does not tell the time just now; nothing was recorded. Try again."
SKEW_US: Final = STEP_US
"""A node whose own clock is further from the database's is told of (our choice: over 2 s)."""


class Authority(Protocol):
    """Is what the shared clock asks of the database (ledger/beacons.py)."""

    def look(self, node: str, boot: str) -> Look:
        """Returns the database's clock, its epoch and this computer's beacon, which was read first."""
        ...

    def all(self) -> list[Beacon]:
        """Returns every beacon."""
        ...

    def testify(self, seen: Beacon) -> None:
        """Keeps a beacon unless its counter moved since it was read."""
        ...

    def open_epoch(self, before: str | None, seen: Beacon, keep_us: tuple[int, int]) -> bool:
        """Returns whether the epoch was still the one before and is now the beacon's."""
        ...

    def wait(self, seconds: float) -> None:
        """Waits."""
        ...


@dataclass(frozen=True, slots=True)
class Corridor:
    """Is where the database's clock was, relative to one monotonic clock, at all looks so far.

    Attributes:
        at_us: the monotonic clock at the last look.
        high_us: the highest difference seen, less what the clocks may have drifted since.
        low_us: the lowest, likewise.
    """

    at_us: int
    high_us: int
    low_us: int

    def later(self, mono_us: int) -> Corridor:
        """Returns the corridor at a later reading of the monotonic clock."""
        drift = max(0, mono_us - self.at_us) // DRIFT
        return Corridor(mono_us, self.high_us - drift, self.low_us + drift)

    def holds(self, offset_us: int) -> bool:
        """Tells whether a difference seen now fits all that were seen before."""
        return self.high_us - LIMIT_US <= offset_us <= self.low_us + LIMIT_US

    def with_look(self, offset_us: int) -> Corridor:
        """Returns the corridor after a look."""
        return Corridor(self.at_us, max(self.high_us, offset_us), min(self.low_us, offset_us))


@dataclass(frozen=True, slots=True)
class Sample:
    """Is one look at the database between two readings of this computer's clocks.

    Attributes:
        own: this computer's clocks after the look.
        offset_us: the database's clock less this computer's monotonic clock.
        error_us: how far that may be off.
    """

    look: Look
    own: Moment
    offset_us: int
    error_us: int


@dataclass(frozen=True, slots=True)
class Held:
    """Is what a node goes by until its next look."""

    epoch: str
    sample: Sample
    corridor: Corridor


@dataclass(frozen=True, slots=True)
class Health:
    """Is how a node stands to the shared clock.

    Attributes:
        epoch: the epoch of its readings.
        age_us: how long ago it looked last.
        error_us: how far that look may be off.
        skew_us: its own wall clock less the database's.
        opened: how many epochs it opened since it started.
        joined: how often it joined again an epoch that others kept or opened.
    """

    epoch: str
    age_us: int
    error_us: int
    skew_us: int
    opened: int
    joined: int

    @property
    def skewed(self) -> bool:
        """Tells whether this computer's own clock must be set right."""
        return abs(self.skew_us) > SKEW_US


class SharedClock:
    """Reads the database's clock by this computer's own; it may be used by many threads."""

    def __init__(self, authority: Authority, own: Clock) -> None:
        self._authority = authority
        self._own = own
        self._held: Held | None = None
        self._last: tuple[str, int] = ("", 0)
        self._opened = self._joined = 0
        self._kept = False
        self._wanted = threading.Event()
        self._looking = threading.Lock()
        self._reading = threading.Lock()

    def now(self) -> Moment:
        """Returns one reading: all its clocks are the shared one.

        Where somebody looks all the time (`keeping_time`) it never waits for the database.

        Raises:
            LedgerError: the database does not tell the time; nothing was recorded.
        """
        held, own = self._held, self._own.now()
        if held is None or _must_look(held, own, LOOK_US):
            held = self._asked_for(held, own) if self._kept else self._renewed(held, own)
            own = self._own.now()
        at_us = own.mono_us + held.sample.offset_us
        with self._reading:
            epoch, last_us = self._last
            at_us = max(at_us, last_us) if epoch == held.epoch else at_us
            self._last = (held.epoch, at_us)
        return Moment(at_us, at_us, at_us, held.epoch, own.node)

    def new_id(self) -> str:
        """Returns a UUID version 7 by the shared clock, as far as this node knows it."""
        held, own = self._held, self._own.now()
        return random_id(own.wall_us if held is None else own.mono_us + held.sample.offset_us)

    def renew(self) -> None:
        """Looks at the database's clock and testifies for what was seen.

        Raises:
            LedgerError: the database does not answer, or too slowly.
        """
        with self._looking:
            self._look()

    def health(self) -> Health | None:
        """Returns how this node stands to the shared clock; None before its first look."""
        held, own = self._held, self._own.now()
        if held is None:
            return None
        sample = held.sample
        return Health(held.epoch, _age_us(held, own), sample.error_us, _skew_us(sample), self._opened, self._joined)

    def _asked_for(self, held: Held | None, own: Moment) -> Held:
        """Returns what is held while it may still be used, and asks whoever looks to look now."""
        self._wanted.set()
        if held is None or _must_look(held, own, STALE_US):
            raise LedgerBusyError(UNKNOWN)
        return held

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Looks at the database's clock all the time, in a thread of its own."""
        stop = threading.Event()

        def look_on() -> None:
            while not stop.is_set():
                self._wanted.clear()
                with suppress(ReprocessError):
                    self.renew()
                self._wanted.wait(RENEW_S)

        with suppress(ReprocessError):
            self.renew()
        looking = threading.Thread(target=look_on, name="shared-clock", daemon=True)
        self._kept = True
        looking.start()
        try:
            yield
        finally:
            self._kept = False
            stop.set()
            self._wanted.set()
            looking.join()

    def _renewed(self, held: Held | None, own: Moment) -> Held:
        """Returns what is held after a look, or what was held where another thread looks or the database is slow."""
        usable = held is not None and not _must_look(held, own, STALE_US)
        if not self._looking.acquire(blocking=not usable) and held is not None:
            return held
        try:
            if self._held is held or self._held is None:
                self._look()
        except ReprocessError:
            if not usable or self._held is not held:
                raise
        finally:
            held = self._held
            self._looking.release()
        if held is None:
            raise LedgerBusyError(DISAGREE)
        return held

    def _look(self) -> None:
        sample, held = self._sampled(), self._held
        if held is not None and held.epoch == sample.look.epoch and not _slept(held.sample.own, sample.own):
            corridor = held.corridor.later(sample.own.mono_us)
            if corridor.holds(sample.offset_us):
                self._hold(Held(held.epoch, sample, corridor.with_look(sample.offset_us)))
                return
            self._doubt(held, sample)
            sample = self._sampled()
        self._hold(self._found(sample))

    def _hold(self, held: Held) -> None:
        self._held = held
        self._say(_beacon(held))

    def _doubt(self, held: Held, sample: Sample) -> None:
        """Says that this computer testifies for no epoch any more, and forgets what it went by."""
        self._held = None
        self._say(replace(_beacon(replace(held, sample=sample)), epoch=IN_DOUBT))

    def _say(self, seen: Beacon) -> None:
        """Keeps a beacon where the database takes it; one that is missing proves less, never more."""
        with suppress(ReprocessError):
            self._authority.testify(seen)

    def _found(self, sample: Sample) -> Held:
        """Returns the epoch in force where somebody witnessed it, else a new one."""
        again = self._held is not None or self._last[0] != ""
        for _ in range(JOINS_MAX):
            held = self._resumed(sample) or self._witnessed(sample)
            if held is not None:
                self._joined += int(again)
                return held
            new = _opening(sample)
            keep_us = (sample.look.clock_us - BEACON_US, sample.look.clock_us + BEACON_US)
            if self._authority.open_epoch(sample.look.epoch, _beacon(new), keep_us):
                self._opened += 1
                return new
            sample = self._sampled()
        raise LedgerBusyError(DISAGREE)

    def _resumed(self, sample: Sample) -> Held | None:
        """Returns the epoch as this computer itself saw it earlier in this boot, or None."""
        look, own = sample.look, sample.own
        if look.own is None or look.own.epoch != look.epoch or look.own.mono_us > own.mono_us:
            return None
        if abs(_asleep_us(own) - look.own.asleep_us) > ASLEEP_US:
            return None
        corridor = _corridor_of(look.own).later(own.mono_us)
        if not corridor.holds(sample.offset_us):
            return None
        return Held(look.own.epoch, sample, corridor.with_look(sample.offset_us))

    def _witnessed(self, sample: Sample) -> Held | None:
        """Returns the epoch as another computer testifies for it while this one looks on, or None."""
        others = self._testifying(sample.look.epoch, sample)
        alive = {name: one for name, one in others.items() if abs(one.clock_us - sample.look.clock_us) <= ALIVE_US}
        for _ in range(WAITS if alive else 0):
            self._authority.wait(WAIT_S)
            for name, one in self._testifying(sample.look.epoch, sample).items():
                if name in alive and one.counter >= alive[name].counter + TWICE:
                    return self._beside(one, sample)
        return None

    def _testifying(self, epoch: str | None, sample: Sample) -> dict[tuple[str, str], Beacon]:
        me = (sample.own.node, sample.own.boot)
        found = {(one.node, one.boot): one for one in self._authority.all() if one.epoch == epoch}
        return {name: one for name, one in found.items() if name != me}

    def _beside(self, witness: Beacon, before: Sample) -> Held | None:
        """Returns the epoch with what the witness saw of it; None where the clock was stepped while we looked on."""
        sample = self._sampled()
        mono_us = sample.own.mono_us
        own = Corridor(before.own.mono_us, before.offset_us, before.offset_us).later(mono_us)
        steady = own.high_us - ERROR_US_MAX <= sample.offset_us <= own.low_us + ERROR_US_MAX
        if sample.look.epoch != witness.epoch or not steady or _slept(before.own, sample.own):
            return None
        off_us = before.error_us + sample.error_us + abs(sample.offset_us - before.offset_us)
        high_us, low_us = sample.offset_us + witness.above_us, sample.offset_us - witness.below_us
        seen = Corridor(mono_us, high_us + off_us, low_us - off_us)
        return Held(witness.epoch, sample, seen)

    def _sampled(self) -> Sample:
        """Returns the best of some looks at the database's clock.

        Raises:
            LedgerBusyError: it answers too slowly to tell the time.
        """
        best: Sample | None = None
        for _ in range(TRIES):
            before = self._own.now()
            look = self._authority.look(before.node, before.boot)
            after = self._own.now()
            length_us = max(after.mono_us - before.mono_us, _running_us(after) - _running_us(before))
            offset_us = look.clock_us - (before.mono_us + after.mono_us) // 2
            if best is None or length_us // 2 < best.error_us:
                best = Sample(look, after, offset_us, length_us // 2)
            if best.error_us <= GOOD_US:
                break
        if best is None or best.error_us > ERROR_US_MAX:
            message = "The database answers too slowly to tell the time; nothing was recorded. Try again."
            raise LedgerBusyError(message)
        return best


def clock_of(ledger: Ledger, own: Clock) -> Clock:
    """Returns the clock by which a department is worked: on a server the one that its nodes share, else its own."""
    return own if ledger.server is None else SharedClock(Beacons(ledger), own)


def keeping_time(clock: Clock) -> AbstractContextManager[None]:
    """Lets a node look at the shared clock all the time, so that it can testify for others; other clocks are left.

    A look that fails is made again a second later; who needs the time meanwhile is told by `now`.
    """
    return clock.kept() if isinstance(clock, SharedClock) else nullcontext()


def _opening(sample: Sample) -> Held:
    """Returns a new epoch that begins with a look."""
    corridor = Corridor(sample.own.mono_us, sample.offset_us, sample.offset_us)
    return Held(f"{SHARED}{random_id(sample.look.clock_us)}", sample, corridor)


def _running_us(own: Moment) -> int:
    return own.mono_us if own.running_us is None else own.running_us


def _asleep_us(own: Moment) -> int:
    return _running_us(own) - own.mono_us


def _slept(before: Moment, after: Moment) -> bool:
    return abs(_asleep_us(after) - _asleep_us(before)) > ASLEEP_US


def _must_look(held: Held, own: Moment, age_us: int) -> bool:
    """Tells whether the last look is too old, or this computer's clocks moved against each other since."""
    before = held.sample.own
    moved_us = (own.wall_us - own.mono_us) - (before.wall_us - before.mono_us)
    return _age_us(held, own) > age_us or abs(moved_us) > ASLEEP_US or _slept(before, own)


def _age_us(held: Held, own: Moment) -> int:
    return own.mono_us - held.sample.own.mono_us


def _skew_us(sample: Sample) -> int:
    return sample.own.wall_us - sample.own.mono_us - sample.offset_us


def _corridor_of(seen: Beacon) -> Corridor:
    offset_us = seen.clock_us - seen.mono_us
    return Corridor(seen.mono_us, offset_us + seen.above_us, offset_us - seen.below_us)


def _beacon(held: Held) -> Beacon:
    """Returns what this computer testifies: its look, and how far earlier ones were from it."""
    own, offset_us = held.sample.own, held.sample.offset_us
    before = held.sample.look.own
    return Beacon(
        node=own.node,
        boot=own.boot,
        epoch=held.epoch,
        counter=before.counter if before is not None else 0,
        clock_us=own.mono_us + offset_us,
        mono_us=own.mono_us,
        asleep_us=_asleep_us(own),
        above_us=max(0, held.corridor.high_us - offset_us),
        below_us=max(0, offset_us - held.corridor.low_us),
        skew_us=_skew_us(held.sample),
    )
