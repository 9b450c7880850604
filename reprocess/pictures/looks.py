"""Fills that stay apart without colour: each differs from every other by pattern or by how light it is.

`paint` is the ground, `ink` what is written on it and what a pattern is drawn with. Contrasts are those of WCAG 2.2:
4.5 to 1 between ink and paint (1.4.3), 3 to 1 between outlines and what is around them (1.4.11).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

INK: Final = "#10202b"
PAPER: Final = "#ffffff"
LINE: Final = "#5d6c77"
GRID: Final = "#87919a"
WHITE: Final = "#ffffff"
PatternName = Literal["rising", "falling", "crossed", "dots", "level", "upright", "grid", "checks", "zigzag"]
TILES: Final[dict[PatternName, tuple[int, str]]] = {
    "rising": (6, "M-1,1L1,-1M0,6L6,0M5,7L7,5"),
    "falling": (6, "M-1,5L1,7M0,0L6,6M5,-1L7,1"),
    "crossed": (8, "M0,0L8,8M8,0L0,8"),
    "dots": (6, "M2,3L4,3M3,2L3,4"),
    "level": (5, "M0,2.5L5,2.5"),
    "upright": (5, "M2.5,0L2.5,5"),
    "grid": (7, "M0,3.5L7,3.5M3.5,0L3.5,7"),
    "checks": (8, "M0,2L4,2M4,6L8,6"),
    "zigzag": (8, "M0,6L4,2L8,6"),
}
"""Side of a pattern's square in pixels, and the lines in it."""
STROKES: Final[dict[PatternName, int]] = {"checks": 4, "dots": 2}
"""Width of a pattern's lines in pixels; one where not told."""


@dataclass(frozen=True, slots=True)
class Look:
    """Is how one category is filled; `lines` are the pattern's where they differ from the ink."""

    name: str
    paint: str
    ink: str = INK
    pattern: PatternName | None = None
    lines: str | None = None

    @property
    def edge(self) -> str:
        """Returns the colour of the outline, which also parts two that are filled alike and touch each other."""
        return PAPER if self.ink == WHITE else INK

    @property
    def fill(self) -> str:
        """Returns the value of the `fill` attribute; the pattern is defined with each drawing."""
        return self.paint if self.pattern is None else f"url(#fill-{self.name})"


STAGES: Final = {
    "used": Look("used", "#14202c", WHITE),
    "cleaned": Look("cleaned", "#3c5573", WHITE),
    "disinfected": Look("disinfected", "#5a7da6", "#000000"),
    "dried": Look("dried", "#8aa9cb", "#000000"),
    "inspected": Look("inspected", "#bcd0e4", "#000000"),
    "ready": Look("ready", WHITE, "#000000"),
    "in repair": Look("in-repair", WHITE, INK, "checks"),
    "condemned": Look("condemned", "#d9d9d9", "#000000", "crossed"),
    "lost": Look("lost", WHITE, INK, "falling"),
}
"""The stages, from dark to light as the item gets cleaner, and the ones beside the cycle."""
BANDS: Final = {
    "wet": Look("wet", "#dcebf7", "#00406f", "rising"),
    "dry": Look("dry", WHITE, "#5a3a00", "dots"),
    "other": Look("other", WHITE, INK, "level"),
    "load": Look("load", WHITE, INK, "grid"),
    "broken": Look("broken", "#ffe3b3", "#3a2500", "zigzag"),
    "hold": Look("hold", "#000000", WHITE),
    "out": Look("out", WHITE, INK, "upright"),
}
"""What runs beside the stages of an item."""
BATHS: Final = {
    "in-use": Look("in-use", "#dbe6ee", "#000000"),
    "expired": Look("expired", WHITE, INK, "level"),
    "failed": Look("failed", "#000000", WHITE),
    "suspect": Look("suspect", WHITE, "#7a1f00", "rising"),
}
"""How a solution stands."""
CAN: Final = {
    "current": Look("current", "#14304f", WHITE),
    "trainee": Look("trainee", "#9db8d3", "#000000"),
    "lapsed": Look("lapsed", "#fff3dc", "#000000", "falling", lines="#b06a00"),
    "none": Look("none", WHITE, "#3a4650"),
}
"""What somebody can do."""
SORTS: Final = (
    Look("sort-a", "#000000", WHITE),
    Look("sort-b", WHITE, INK, "rising"),
    Look("sort-c", "#6d8bb0", "#000000"),
    Look("sort-d", WHITE, INK, "dots"),
    Look("sort-e", WHITE, INK),
    Look("sort-f", WHITE, INK, "falling"),
    Look("sort-g", "#c3d4e6", "#000000"),
    Look("sort-h", WHITE, INK, "level"),
    Look("sort-i", WHITE, INK, "grid"),
    Look("sort-j", WHITE, INK, "upright"),
    Look("sort-k", WHITE, INK, "zigzag"),
    Look("sort-l", WHITE, INK, "checks"),
)
"""Fills for categories that have no look of their own."""
ALL: Final = {look.name: look for look in (*STAGES.values(), *BANDS.values(), *BATHS.values(), *CAN.values(), *SORTS)}
