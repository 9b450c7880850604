"""Holds."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body, Texts


class HoldPlaced(Body):
    """Says that the item must not be released or issued until the lift conditions are met (H02).

    `cause_id` names what happened, so that what people settled is not held for it again (E25); `evidence` and
    `notice` are references to what shows it and to a field notice (H12); `recall` is the recall that it belongs to.
    """

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
    cause_id: str | None = None
    recall: str | None = None
    evidence: str | None = None
    notice: str | None = None


class HoldLifted(Body):
    """Says that a hold ended, on what evidence and with what disposition, and which cause is settled (H10, E25)."""

    kind: ClassVar[str] = "hold-lifted"
    hold: str
    disposition: str
    settles: str | None = None
    evidence: str | None = None


class HeldSighted(Body):
    """Says that a held item was scanned at a station, or put in a quarantine place (H01, H04)."""

    kind: ClassVar[str] = "held-sighted"
    holds: Texts
    place: str | None = None
