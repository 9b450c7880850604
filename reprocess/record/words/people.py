"""What is found out about people afterwards, and what it makes doubtful."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body


class StepFlagged(Body):
    """Says that who did a step had no valid competency for it then, as came out later (A06).

    Attributes:
        entry: the number of the step's entry in the item's stream.
        at_us: when the step was done.
    """

    kind: ClassVar[str] = "step-flagged"
    person: str
    competency: str
    step: str
    entry: int
    cycle: int
    at_us: int
    because: str


class FlagSettled(Body):
    """Says that a flag no longer stands: the competency was held after all, on a certificate entered later (E39)."""

    kind: ClassVar[str] = "flag-settled"
    person: str
    competency: str
    entry: int
    verifier: str


class BadgeDoubted(Body):
    """Says that a person's badges were used at two sites within minutes, so that one of them may be a copy (E37)."""

    kind: ClassVar[str] = "badge-doubted"
    person: str
    site: str
    other_site: str
    other_station: str
    within_s: int


class EmergencyDeclared(Body):
    """Says that an emergency policy is in force at a site, on which authority and until when."""

    kind: ClassVar[str] = "emergency-declared"
    until_us: int
    reference: str
