"""The ordinary work of the month, by seed: who takes which kit when, how long it is worn, when it comes back."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random
from typing import Final

from reprocess.demo.month.agenda import Work
from reprocess.demo.month.days import DAYS, at
from reprocess.demo.month.hands import Hands
from reprocess.demo.month.network import KITS, ZONES
from reprocess.terms import Stage

ISSUES_A_DAY: Final = {"LMG": 6, "FEN": 2, "SAL": 1}
"""Kits that go out on a working day; at a weekend 0.62 of that (both invented)."""
WEEKEND: Final = 0.62
WORN_MIN: Final = 210.0
"""Median minutes a kit is worn; the 95th percentile is 600 (invented)."""
WORN_SPREAD: Final = math.log(600 / 210) / 1.645
BACK_MIN: Final = 70.0
"""Median minutes from taking off to the hatch; the 95th percentile is 300 (invented)."""
BACK_SPREAD: Final = math.log(300 / 70) / 1.645
HOURS: Final = ((7, 2.2), (8, 2.2), (11, 0.9), (14, 1.5), (15, 1.5), (17, 0.9), (19, 1.9), (20, 1.9))
"""Hours of the day and how much of the demand falls there (invented)."""
BLOOD: Final = 0.012
"""Share of returns with blood or body fluid on them (invented)."""
WARDS: Final = ("ward-3", "ward-5", "ward-7", "theatres", "emergency", "intensive-care")


@dataclass(slots=True)
class Background:
    """Is the ordinary work. `reserved` are the kits that the story itself needs just now."""

    hands: Hands
    random: Random
    reserved: set[int] = field(default_factory=set)
    out: set[int] = field(default_factory=set)
    unmet: int = 0

    def month(self, first_day: int = 1) -> None:
        """Puts every issue of the month down in the agenda."""
        for day in range(first_day, DAYS + 1):
            weekend = (day + 3) % 7 in {6, 0}  # day 1 is a Thursday
            for site, usual in sorted(ISSUES_A_DAY.items()):
                count = round(usual * (WEEKEND if weekend else 1) + self.random.random() - 0.5)
                for _ in range(count):
                    hour = self.random.choices([one for one, _ in HOURS], [weight for _, weight in HOURS])[0]
                    when = at(day, hour, self.random.randrange(60), ZONES[site])
                    self.hands.agenda.at(when, self.use(site))

    def use(self, site: str) -> Work:
        """Issues a kit, lets it be worn and come back, and takes it through to ready again."""
        number = self.free(site)
        wearer = f"W-{site}-{self.random.randrange(1, 25):02d}"
        ward = self.random.choice(WARDS)
        worn = self.random.lognormvariate(math.log(WORN_MIN), WORN_SPREAD)
        back = self.random.lognormvariate(math.log(BACK_MIN), BACK_SPREAD)
        if number is None:
            self.unmet += 1
            return
        self.out.add(number)
        if not self.hands.issue(number, site, wearer, ward).accepted:
            self.out.discard(number)
            return
        yield 60 * (worn + back)
        kind = "blood" if self.random.random() < BLOOD else "routine"
        self.out.discard(number)
        custody = self.hands.department.item(f"KIT-{number:03d}").custody
        if number in self.reserved or custody is None or custody.wearer != wearer:
            return  # the story took it back
        self.hands.return_(f"KIT-{number:03d}", site, contamination_class=kind)
        yield 60 * self.random.uniform(5, 90)
        yield from self.hands.kit(number, site)

    def free(self, site: str) -> int | None:
        """Returns the ready kit of a site whose readiness ends first, or None (Q08)."""
        found = []
        for number in KITS[site]:
            if number in self.reserved or number in self.out:
                continue
            item = self.hands.department.item(f"KIT-{number:03d}")
            if item.stage == Stage.READY and not item.holds and item.custody is None:
                found.append((item.ready_until_us or 0, number))
        return min(found)[1] if found else None
