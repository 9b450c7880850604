"""What every act of the story has at hand."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.demo.month.agenda import Agenda
from reprocess.demo.month.background import Background
from reprocess.demo.month.hands import Hands
from reprocess.demo.month.network import KITS
from reprocess.demo.month.scenes import Scenes


@dataclass(frozen=True, slots=True)
class Stage:
    """Is everything that an act needs: the hands, what runs beside it, how it is told, and the agenda."""

    hands: Hands
    background: Background
    scenes: Scenes
    agenda: Agenda

    def now(self) -> int:
        """Returns the story's wall time."""
        return self.agenda.clock.wall_us


def site_of(number: int) -> str:
    """Returns the site of a kit."""
    return next(site for site, numbers in KITS.items() if number in numbers)
