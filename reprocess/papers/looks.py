"""How groups of codes are told apart: each has a colour, a pattern and a shape of its own, so that grey print does too.

Colours, patterns and shapes are our own choice. A colour is dark enough for white letters (at least 7 to 1, WCAG 2.2,
success criterion 1.4.6).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from reprocess.scan.command import DEFECTS, Defect, Group

Pattern = Literal["full", "rising", "falling", "dots", "level", "upright", "checks"]


@dataclass(frozen=True, slots=True)
class Look:
    """Is how one group looks.

    Attributes:
        name: the group's own word, which is also the end of its key in the catalogues.
        colour: as CSS writes it.
        pattern: how its band is filled, named by the run of its lines.
        shape: the path of its shape on a field of 24 by 24, filled by the even-odd rule.
    """

    name: str
    colour: str
    pattern: Pattern
    shape: str

    @property
    def svg(self) -> str:
        """Returns the shape as a drawing."""
        path = f'<path d="{self.shape}" fill="{self.colour}" fill-rule="evenodd"/>'
        return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">{path}</svg>'


_DROP: Final = "M12 2C9 7 5 11 5 15a7 7 0 0 0 14 0C19 11 15 7 12 2Z"
_HOURGLASS: Final = "M4 2H20V5L14 12L20 19V22H4V19L10 12L4 5Z"
_LENS: Final = "M10 2a8 8 0 1 0 4.6 14.5L20 22L22 20L16.5 14.6A8 8 0 0 0 10 2ZM10 5a5 5 0 1 1 0 10a5 5 0 0 1 0-10Z"
_OCTAGON: Final = "M8 2H16L22 8V16L16 22H8L2 16V8Z"
_BASIN: Final = "M2 4H22V7H2ZM3 10H21L18 21H6Z"
_BALLOON: Final = "M2 3H22V16H12L6 22V16H2Z"

OF_GROUPS: Final[Mapping[Group, Look]] = MappingProxyType(
    {
        Group.CLEAN: Look("clean", "#0b4a75", "full", _DROP),
        Group.CONTACT: Look("contact", "#56277f", "rising", _HOURGLASS),
        Group.DRY: Look("dry", "#6b4000", "dots", _LENS),
        Group.STOP: Look("stop", "#8a1010", "checks", _OCTAGON),
        Group.BATH: Look("bath", "#0c5242", "level", _BASIN),
        Group.ANSWER: Look("answer", "#3a3a3a", "falling", _BALLOON),
    }
)
"""The bands of the command sheet."""

_TUBE: Final = "M2 8H8A4 4 0 0 1 12 12A2 2 0 0 0 14 14H22V19H14A7 7 0 0 1 7 12H2Z"
_FAN: Final = "M12 2A10 10 0 1 0 12 22A10 10 0 1 0 12 2ZM12 5L14 12L12 19L10 12ZM5 12L12 10L19 12L12 14Z"
_RING: Final = "M12 2A10 10 0 1 0 12 22A10 10 0 1 0 12 2ZM12 7A5 5 0 1 1 12 17A5 5 0 1 1 12 7Z"
_FILTER: Final = "M3 3H21V21H3ZM6 6V18H8V6ZM11 6V18H13V6ZM16 6V18H18V6Z"
_BATTERY: Final = "M2 7H20V10H22V14H20V17H2ZM5 10V14H12V10Z"
_HOOD: Final = "M3 22V12A9 9 0 0 1 21 12V22ZM7 12H17V16H7Z"
_TRIANGLE: Final = "M12 2L23 21H1ZM11 9V15H13V9ZM11 17V19H13V17Z"

OF_DEFECTS: Final[Mapping[Look, tuple[str, ...]]] = MappingProxyType(
    {
        Look("tube", "#0b4a75", "full", _TUBE): ("TUBE",),
        Look("blower", "#56277f", "rising", _FAN): ("BLW",),
        Look("port", "#6b4000", "dots", _RING): ("PORT", "GSK", "PLUG"),
        Look("filter", "#0c5242", "level", _FILTER): ("FLT",),
        Look("battery", "#8a1010", "checks", _BATTERY): ("BAT",),
        Look("cover", "#10456b", "upright", _HOOD): ("HOOD", "LENS", "BELT"),
        Look("any", "#3a3a3a", "falling", _TRIANGLE): (),
    }
)
"""The bands of the defect sheet, each with the beginnings of its defects' codes; the last takes all others."""


def defects_of(look: Look) -> list[Defect]:
    """Returns the defects of a band, in the order of the table."""
    return [one for one in DEFECTS.values() if _band_of(one) is look]


def _band_of(defect: Defect) -> Look:
    kind = defect.code.partition("-")[0]
    named = (look for look, kinds in OF_DEFECTS.items() if kind in kinds)
    return next(named, list(OF_DEFECTS)[-1])
