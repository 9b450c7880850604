"""The page of measures: how large things are on this screen, from where they can be read, and how its scanner is set.

A browser's millimetre is not a real one, so that somebody measures a bar once; the screen itself keeps what came of it.
Sizes follow ISO 9241-3 as quoted by a design standard: 16 minutes of arc at least, 20 to 22 preferred.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from reprocess.service.pages import rendering
from reprocess.service.pages.forms import PageRoute
from reprocess.service.pages.signing_in import perhaps

TURN: Final = Decimal("6.283")
"""Twice pi, as the formula that is quoted has it."""
MINUTES_OF_TURN: Final = 21_600
LEAST_MINUTES: Final = 16
PREFERRED_MINUTES: Final = (20, 22)
FROM_M: Final = 3
"""Metres from which a bench is read (the department's own need)."""
DIGITS_MM: Final = Decimal(40)
LETTERS_MM: Final = Decimal(20)
WIDE_PX: Final = 1920
WIDE_MM: Final = Decimal("531.3")
"""A 24-inch screen of 16 to 9: 24 in x 25.4 mm x 16 / sqrt(337) = 531.3 mm."""
BAR_PX: Final = 600
"""The bar that somebody measures, in pixels of the style sheet."""
_TENTH: Final = Decimal("0.1")

router = APIRouter(route_class=PageRoute, include_in_schema=False)


def height_mm(minutes: Decimal | int, from_m: Decimal | int) -> Decimal:
    """Returns the height of a character that is seen under so many minutes of arc from a distance in metres.

    Source: H = 6.283 D MA / 21600, the formula of NUREG-0700 as quoted; the angle is small enough to stand for its
    tangent.
    """
    return TURN * Decimal(from_m) * 1000 * Decimal(minutes) / MINUTES_OF_TURN


def minutes_of(height: Decimal, from_m: Decimal | int) -> Decimal:
    """Returns the minutes of arc under which a height in millimetres is seen from a distance in metres."""
    return height * MINUTES_OF_TURN / (TURN * Decimal(from_m) * 1000)


def pixels_of(height: Decimal, wide_mm: Decimal = WIDE_MM, wide_px: int = WIDE_PX) -> Decimal:
    """Returns the pixels that a height in millimetres takes on a screen of that width."""
    return height * wide_px / wide_mm


@dataclass(frozen=True, slots=True)
class Row:
    """Is one line of the table: what is read, how high it is and under which angle, as text."""

    key: str
    mm: str
    minutes: str
    pixels: str


def rows() -> list[Row]:
    """Returns the sizes that matter, read from three metres."""
    wanted = [("least", height_mm(LEAST_MINUTES, FROM_M))]
    wanted += [(f"preferred-{one}", height_mm(one, FROM_M)) for one in PREFERRED_MINUTES]
    wanted += [("letters", LETTERS_MM), ("digits", DIGITS_MM)]
    return [Row(key, _told(mm), _told(minutes_of(mm, FROM_M)), _whole(pixels_of(mm))) for key, mm in wanted]


def _told(value: Decimal) -> str:
    return str(value.quantize(_TENTH, ROUND_HALF_UP))


def _whole(value: Decimal) -> str:
    return str(value.quantize(Decimal(1), ROUND_HALF_UP))


@router.get("/calibration")
async def calibration(request: Request) -> Response:
    """Show the bar, the sizes and the settings of this screen."""
    caller = await perhaps(request)
    return rendering.page(request, "calibration.html", caller=caller, rows=rows(), bar=BAR_PX, from_m=FROM_M)
