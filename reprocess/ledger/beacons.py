"""The clock that the nodes of one PostgreSQL database share: its time, its epoch, and what each computer saw of it.

An epoch is a time in which the readings of all nodes belong together (reprocess/shared_clock.py). A beacon is one
computer's testimony: it saw that the database's clock went evenly beside its own since the epoch began, or since
somebody else saw so. Its counter moves only by somebody who read it before they looked at the clock: whoever sees
it move twice knows that the second look came after the first move.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.driver import Cursor
from reprocess.ledger.open import Ledger

_KEPT: Final = "epoch, counter, clock_us, mono_us, asleep_us, above_us, below_us, skew_us"
_LOOK: Final = (
    "SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint, a.epoch_now, b.node, b.boot, b.epoch, b.counter,"
    " b.clock_us, b.mono_us, b.asleep_us, b.above_us, b.below_us, b.skew_us"
    " FROM (SELECT max(value) AS epoch_now FROM about WHERE name = 'epoch') AS a"
    " LEFT JOIN beacon AS b ON b.node = ? AND b.boot = ?"
)
"""What a statement reads is older than the clock that it reads: its snapshot comes first."""
_ALL: Final = f"SELECT node, boot, {_KEPT} FROM beacon ORDER BY node, boot"  # noqa: S608
_INSERT: Final = f"INSERT INTO beacon (node, boot, {_KEPT}) VALUES (?, ?, ?, 1, ?, ?, ?, ?, ?, ?)"  # noqa: S608
_LIGHT: Final = f"{_INSERT} ON CONFLICT DO NOTHING"
_OVER: Final = (
    f"{_INSERT} ON CONFLICT (node, boot) DO UPDATE SET epoch = excluded.epoch, counter = beacon.counter + 1,"
    " clock_us = excluded.clock_us, mono_us = excluded.mono_us, asleep_us = excluded.asleep_us,"
    " above_us = excluded.above_us, below_us = excluded.below_us, skew_us = excluded.skew_us"
)
_GO_ON: Final = (
    "UPDATE beacon SET epoch = ?, counter = counter + 1, clock_us = ?, mono_us = ?, asleep_us = ?, above_us = ?,"
    " below_us = ?, skew_us = ? WHERE node = ? AND boot = ? AND counter = ?"
)
_BEGIN: Final = "INSERT INTO about (name, value) VALUES ('epoch', ?) ON CONFLICT DO NOTHING"
_CHANGE: Final = "UPDATE about SET value = ? WHERE name = 'epoch' AND value = ?"
_FORGET: Final = "DELETE FROM beacon WHERE clock_us < ? OR clock_us > ?"
_WAIT: Final = "SELECT pg_sleep(?)"

IN_DOUBT: Final = ""
"""The epoch of a beacon whose computer is at work and testifies for none."""


@dataclass(frozen=True, slots=True)
class Beacon:
    """Is what one computer last saw of the database's clock.

    Attributes:
        node: the computer.
        boot: the id of its boot.
        epoch: the epoch that it testifies for.
        counter: how often it did.
        clock_us: the database's clock at its last look.
        mono_us: its own monotonic clock then.
        asleep_us: its boot-time clock less its monotonic one then: how long it slept since it booted.
        above_us: how far earlier looks of the epoch may have been above the last one, relative to its own clock.
        below_us: how far they may have been below.
        skew_us: its own wall clock less the database's.
    """

    node: str
    boot: str
    epoch: str
    counter: int
    clock_us: int
    mono_us: int
    asleep_us: int
    above_us: int
    below_us: int
    skew_us: int


@dataclass(frozen=True, slots=True)
class Look:
    """Is one look at the database: its clock, the epoch in force or None, and this computer's own beacon before it."""

    clock_us: int
    epoch: str | None
    own: Beacon | None


class Beacons:
    """Is the shared clock's side of a ledger on a server; every call is a short transaction of its own."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def look(self, node: str, boot: str) -> Look:
        """Returns what is there now; the beacon was read before the clock."""
        with self._ledger.cursor() as cursor:
            clock_us, epoch, *own = cursor.execute(_LOOK, (node, boot)).fetchone()
        return Look(clock_us, epoch, None if own[0] is None else Beacon(*own))

    def all(self) -> list[Beacon]:
        """Returns every computer's beacon, by node."""
        with self._ledger.cursor() as cursor:
            return [Beacon(*row) for row in cursor.execute(_ALL).fetchall()]

    def testify(self, seen: Beacon) -> None:
        """Keeps what this computer saw, unless another process of it did so since `counter` was read."""
        with self._ledger.claiming() as cursor:
            _at_leisure(cursor)
            if seen.counter:
                cursor.execute(_GO_ON, (seen.epoch, *_told(seen), seen.node, seen.boot, seen.counter))
            else:
                cursor.execute(_LIGHT, (seen.node, seen.boot, seen.epoch, *_told(seen)))

    def open_epoch(self, before: str | None, seen: Beacon, keep_us: tuple[int, int]) -> bool:
        """Returns whether the epoch in force was the one before and is now the beacon's; old beacons go.

        Args:
            before: the epoch that the caller read, or None where there was none.
            seen: the first testimony of the new epoch, so that nobody finds it without one.
            keep_us: between which instants of the database's clock a beacon is kept.
        """
        new = seen.epoch
        with self._ledger.claiming() as cursor:
            made = cursor.execute(_BEGIN, (new,)) if before is None else cursor.execute(_CHANGE, (new, before))
            changed: bool = made.rowcount == 1
            if changed:
                cursor.execute(_FORGET, keep_us)
                cursor.execute(_OVER, (seen.node, seen.boot, seen.epoch, *_told(seen)))
        return changed

    def wait(self, seconds: float) -> None:
        """Lets the server wait."""
        with self._ledger.cursor() as cursor:
            cursor.execute(_WAIT, (seconds,)).fetchone()


def _told(seen: Beacon) -> tuple[int, ...]:
    return seen.clock_us, seen.mono_us, seen.asleep_us, seen.above_us, seen.below_us, seen.skew_us


def _at_leisure(cursor: Cursor) -> None:
    """Lets one transaction commit without waiting for the disk: a beacon that is lost was none."""
    cursor.execute("SELECT set_config('synchronous_commit', 'off', true)").fetchone()
