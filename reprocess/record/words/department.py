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


class StationOpened(Body):
    """Says that a station exists and on which side of the bench it stands."""

    kind: ClassVar[str] = "station-opened"
    title: str
    site: str
    side: Literal["dirty", "clean", "any"]


class PersonRegistered(Body):
    """Says that a person works here; wearers are never registered under their name."""

    kind: ClassVar[str] = "person-registered"
    name: str
    sites: Texts
    roles: Texts


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
    """Says that a person was found competent for a step, on which kinds of item (all when empty), until when."""

    kind: ClassVar[str] = "competency-granted"
    competency: str
    item_kinds: Texts = ()
    from_us: int
    until_us: int
    assessor: str


class CompetencyWithdrawn(Body):
    """Says that a competency ended early."""

    kind: ClassVar[str] = "competency-withdrawn"
    competency: str
    reason: str


class WorkflowPublished(Body):
    """Keeps the whole text of a workflow, agent, configuration or profile file that somebody proposes."""

    kind: ClassVar[str] = "workflow-published"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    text: str


class WorkflowApproved(Body):
    """Says that a second person approved a published text; it is in force from now on."""

    kind: ClassVar[str] = "workflow-approved"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str


class InstrumentRegistered(Body):
    """Says that a measuring instrument is known."""

    kind: ClassVar[str] = "instrument-registered"
    sort: str
    site: str
    serial: str | None = None


class InstrumentVerified(Body):
    """Says that an instrument was found good and until when that counts (M02, M09)."""

    kind: ClassVar[str] = "instrument-verified"
    until_us: int
    reference: str


class InstrumentFaulty(Body):
    """Says that an instrument was found faulty; nothing measured with it counts from now on."""

    kind: ClassVar[str] = "instrument-faulty"
    finding: str
