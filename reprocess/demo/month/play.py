"""Plays the month: the network is founded and made ready, the background runs by seed, and the story's acts happen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, Final

from reprocess.clock import StoryClock, keep
from reprocess.demo.month import acts, network
from reprocess.demo.month.agenda import Agenda, Work
from reprocess.demo.month.background import Background
from reprocess.demo.month.days import DAYS, at
from reprocess.demo.month.hands import Hands
from reprocess.demo.month.scenes import Scenes
from reprocess.demo.month.stage import Stage
from reprocess.demo.month.wipes import open_wipes, replacement_filters
from reprocess.department import found_department
from reprocess.engine import request as asking
from reprocess.ledger.names import Name

SEED: Final = 41
NEW_WIPES_DAY: Final = 20
BEFORE_DAYS: Final = 3
"""Days before the first on which everything is made ready."""


@dataclass(frozen=True, slots=True)
class MonthTold:
    """Is what the month came to: every line of the story with its facts, and what ran beside it."""

    facts: dict[str, dict[str, Any]]
    scans: int
    refusals: int
    unmet: int
    entries: int
    sound: bool
    told: list[dict[str, Any]] = field(default_factory=list)


def play(
    path: Path, say: Callable[[str], None], *, seed: int = SEED, days: int = DAYS, tick: Callable[[float], None] = print
) -> MonthTold:
    """Returns what the month came to, played in a new department; `tick` is told the share that is done."""
    start, end = at(1 - BEFORE_DAYS, 6), at(days, 23, 59)
    clock = StoryClock(start)
    department = found_department(path, network.text(), name="month.yaml", clock=clock)
    keep(clock, path)
    with department:
        department.ledger.hurry()
        agenda = Agenda(clock, tick=lambda now_us: tick((now_us - start) / (end - start)))
        hands = Hands(department, agenda)
        background = Background(hands, Random(seed))  # noqa: S311 - a story, not a secret
        scenes = Scenes(department, clock, say)
        _wearers(hands)
        agenda.soon(_ready(hands))
        agenda.at(at(NEW_WIPES_DAY, 6), _new_wipes(hands))
        background.month()
        acts.put_down(Stage(hands, background, scenes, agenda))
        agenda.run(end)
        report = department.verify(full=True)
        keep(clock, path)
        return MonthTold(
            scenes.facts, hands.scans, len(hands.refused), background.unmet, report.entries, report.sound,
            scenes.told,
        )  # fmt: skip


def _new_wipes(hands: Hands) -> Work:
    for site in network.STAFF:
        open_wipes(hands, site, 3, 4)
        yield 60


def _ready(hands: Hands) -> Work:
    for site in network.STAFF:
        open_wipes(hands, site, 1, 2)
        replacement_filters(hands, site, network.KITS[site], network.lot_of)
    yield 600
    for site, numbers in network.KITS.items():
        for number in numbers:
            hands.agenda.soon(hands.kit(number, site))
            yield 120


def _wearers(hands: Hands) -> None:
    """Makes the wearers known; their names are invented and stand outside the record."""
    for site in network.STAFF:
        for number in range(1, 25):
            wearer = f"W-{site}-{number:02d}"
            bench = hands.department.station(f"{site}-HATCH", badge="B-BO")
            bench.register(Name(f"Wearer {number} of {site}", f"WB-{site}-{number:02d}"), f"{site} ward", wearer=wearer)
            for request in (
                asking.TrainWearer(wearer, at(200, 0)),
                asking.ClearWearer(wearer, cleared=True, until_us=at(200, 0)),
            ):
                hands.good(hands.scan("B-BO", request, station=f"{site}-HATCH"))
