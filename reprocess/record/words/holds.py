"""Holds."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body, Texts


class HoldPlaced(Body):
    """Says that the item must not be released or issued until the lift conditions are met (H02)."""

    kind: ClassVar[str] = "hold-placed"
    hold: str
    sort: str
    rule: str
    cause: str
    owner: str
    lift_roles: Texts
    lift_two_people: bool
    lift_requires: str
    defects: Texts = ()


class HoldLifted(Body):
    """Says that a hold ended, on what evidence and with what disposition (H10)."""

    kind: ClassVar[str] = "hold-lifted"
    hold: str
    disposition: str


class HeldSighted(Body):
    """Says that a held item was scanned at a station (H04)."""

    kind: ClassVar[str] = "held-sighted"
    holds: Texts
