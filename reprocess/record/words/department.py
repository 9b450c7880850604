"""The department: sites, stations, people and files."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Texts


class SiteOpened(Body):
    """Says that a site works with this record, in which time zone and under which site policy."""

    kind: ClassVar[str] = "site-opened"
    title: str
    zone: str
    contact_floor_s: int | None = None
    self_inspection: bool = False
    demo: bool = False
    competency_hold: Literal[True] | None = None


class StationOpened(Body):
    """Says that a station exists and on which side of the bench it stands."""

    kind: ClassVar[str] = "station-opened"
    title: str
    site: str
    side: Literal["dirty", "clean", "any"]


class PersonRegistered(Body):
    """Says that a person works here; wearers are never registered under their name.

    `temporary` says that they are sent by an agency or lent for a time (A04).
    """

    kind: ClassVar[str] = "person-registered"
    name: str
    sites: Texts
    roles: Texts
    temporary: Literal[True] | None = None


class PersonLeft(Body):
    """Says that a person no longer works here."""

    kind: ClassVar[str] = "person-left"
    reason: str


class BadgeGiven(Body):
    """Says that a badge now means this person."""

    kind: ClassVar[str] = "badge-given"
    badge: str


class BadgeWithdrawn(Body):
    """Says that a badge no longer means anybody."""

    kind: ClassVar[str] = "badge-withdrawn"
    badge: str
    reason: str


class CompetencyGranted(Body):
    """Says that a person was found competent for a step, on which kinds of item (all when empty), until when.

    Attributes:
        level: trainee where a competent person must stand by (A03); full where None.
        models: the only models that it is for; all where None.
        verifier: who compared a certificate that is entered later with its source (E39).
    """

    kind: ClassVar[str] = "competency-granted"
    competency: str
    item_kinds: Texts = ()
    from_us: int
    until_us: int
    assessor: str
    level: Literal["trainee"] | None = None
    models: Texts | None = None
    verifier: str | None = None


class CompetencyWithdrawn(Body):
    """Says that a competency ended early; `from_us` says since when it was not valid, None that it ends now (A06)."""

    kind: ClassVar[str] = "competency-withdrawn"
    competency: str
    reason: str
    from_us: int | None = None


class WorkflowPublished(Body):
    """Keeps the whole text of a workflow, agent, configuration or profile file that somebody proposes."""

    kind: ClassVar[str] = "workflow-published"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    text: str


class WorkflowApproved(Body):
    """Says that a second person approved a published text; it is in force from now on.

    `safety` says that open cycles go on under it, because the version before must not be followed any longer (G12).
    """

    kind: ClassVar[str] = "workflow-approved"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    safety: Literal[True] | None = None


class InstrumentRegistered(Body):
    """Says that a measuring instrument is known.

    A charger's bay also says which charger it is part of, which models of battery it may charge (any when empty), and
    from how cold to how warm they may be, in degrees Celsius (B02, C08).
    """

    kind: ClassVar[str] = "instrument-registered"
    sort: str
    site: str
    serial: str | None = None
    part_of: str | None = None
    models: Texts | None = None
    least_c: str | None = None
    most_c: str | None = None


class InstrumentVerified(Body):
    """Says that an instrument was found good and until when that counts (M02, M09)."""

    kind: ClassVar[str] = "instrument-verified"
    until_us: int
    reference: str


class InstrumentFaulty(Body):
    """Says that an instrument was found faulty; nothing measured with it counts from now on."""

    kind: ClassVar[str] = "instrument-faulty"
    finding: str


class QuietHoursSet(Body):
    """Says in which local hours of the site a role is not rung at; without times it always is.

    Attributes:
        begins: the local hour and minute at which they begin, such as `22:00`.
        ends: when they end, on the next day where that is not later than the beginning.
    """

    kind: ClassVar[str] = "quiet-hours-set"
    role: str
    begins: str | None = None
    ends: str | None = None


class ProgrammeEvaluated(Body):
    """Says that the whole programme of the site was evaluated, as it is once a year (R12)."""

    kind: ClassVar[str] = "programme-evaluated"
    reference: str
