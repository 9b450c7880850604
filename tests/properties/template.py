"""The department that every script starts from: founded once, then copied for each script."""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from reprocess.department import found_department
from tests.oracle.fold import World, empty
from tests.properties import larkmoor, scans
from tests.properties.clocks import TwoNodes
from tests.properties.play import Play, Tally, copied
from tests.properties.scans import Scan
from tests.properties.script import Climb, Script

PARTS = (*scans.KIT, "KIT-FLT-3")


@dataclass(frozen=True, slots=True)
class Template:
    """Is a closed department with the oracle's world of it, to be copied."""

    path: Path
    world: bytes
    feed: int
    true_us: int
    count: int

    def play(self, script: Script, tally: Tally | None = None) -> Play:
        """Plays a script on a copy beside the template and returns what was played; the copy is closed."""
        with self.opened(script.items, tally) as play:
            play.run(script)
        return play

    @contextmanager
    def opened(self, items: tuple[str, ...], tally: Tally | None = None) -> Iterator[Play]:
        """Yields the beginning of a play on a copy beside the template."""
        place = copied(self.path, self.path.with_name("copy.db"))
        clock = TwoNodes(self.true_us, self.count)
        play = Play(place, clock, pickle.loads(self.world), self.feed)  # noqa: S301 - our own
        play.items = items
        if tally is not None:
            play.tally = tally
        try:
            yield play
        finally:
            play.close()


def founded(path: Path) -> Template:
    """Returns a new department with the parts of one kit made ready by good scans, and one solution of every agent."""
    clock = TwoNodes()
    found_department(path, larkmoor.FOUNDING, clock=clock, shipped=larkmoor.shipped()).close()
    world: World = empty()
    play = Play(path, clock, world, 0)
    play.learn()
    play.items = PARTS
    for which in range(len(PARTS)):
        play.climb(Climb(which, 40))
    for agent in [file["agent"] for file in world["files"].values() if "agent" in file]:
        if scans.newest(world, agent) is None:
            play.ask(Scan(scans.making(world, agent, clock.now().wall_us), "LMG-A", "B-ANNA-1"))
    play.close()
    return Template(path, pickle.dumps(world), play.feed, clock.true_us, clock.count)
