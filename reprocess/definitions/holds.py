"""The types of hold and what lifts each (H02, H10): common practice, no source; a site may ask for more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class HoldType(StrEnum):
    """Lists why an item can be on hold."""

    DEFECT = "defect"
    OVER_EXPOSED = "over-exposed"
    SOLUTION = "solution"
    LOAD = "load"
    RECALL = "recall"
    EXPOSURE = "exposure"
    IDENTITY = "identity"
    COMPETENCY = "competency"
    MISSING_PART = "missing-part"
    ADMINISTRATIVE = "administrative"
    BATTERY_HAZARD = "battery-hazard"


@dataclass(frozen=True, slots=True)
class Lift:
    """Says who lifts a hold and on what.

    Attributes:
        roles: one of the people must have one of these roles.
        two_people: whether two different people are needed (S03).
        renewed: whether the inspection must be done again after the hold was placed.
        requires: what must be on record, in words.
    """

    roles: tuple[str, ...]
    two_people: bool
    renewed: bool
    requires: str


_SUPERVISOR = ("supervisor",)
_PROGRAMME = ("programme-administrator", "supervisor")
_INFECTION = ("infection-prevention",)

LIFTS: Mapping[HoldType, Lift] = MappingProxyType(
    {
        HoldType.DEFECT: Lift(
            ("supervisor", "clinical-engineer"),
            two_people=True,
            renewed=True,
            requires="repair or part replaced, a full cycle, and a new inspection",
        ),
        HoldType.OVER_EXPOSED: Lift(
            _SUPERVISOR,
            two_people=False,
            renewed=True,
            requires="the material looked at in a new inspection",
        ),
        HoldType.SOLUTION: Lift(
            _SUPERVISOR,
            two_people=True,
            renewed=True,
            requires="disinfected again in a solution that passed, and a new inspection",
        ),
        HoldType.LOAD: Lift(
            _SUPERVISOR,
            two_people=True,
            renewed=True,
            requires="processed again in a load that passed, and a new inspection",
        ),
        HoldType.RECALL: Lift(_PROGRAMME, two_people=True, renewed=False, requires="the recall's disposition"),
        HoldType.EXPOSURE: Lift(
            _INFECTION, two_people=True, renewed=False, requires="a decision by infection prevention"
        ),
        HoldType.IDENTITY: Lift(
            _SUPERVISOR,
            two_people=True,
            renewed=False,
            requires="identity settled from the serial plate and the history",
        ),
        HoldType.COMPETENCY: Lift(_SUPERVISOR, two_people=True, renewed=False, requires="the steps reviewed"),
        HoldType.MISSING_PART: Lift(_SUPERVISOR, two_people=False, renewed=True, requires="the part found or replaced"),
        HoldType.BATTERY_HAZARD: Lift(
            ("clinical-engineer",),
            two_people=True,
            renewed=False,
            requires="the battery judged sound by clinical engineering, or condemned",
        ),
        HoldType.ADMINISTRATIVE: Lift(_SUPERVISOR, two_people=False, renewed=False, requires="the reason settled"),
    }
)
"""What lifts each type of hold."""
