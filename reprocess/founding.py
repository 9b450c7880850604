"""A department's own file: sites, stations, first people, competencies and items, turned into first entries."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, Strict, StringConstraints, model_validator

from reprocess.engine.enrolling import Commission, Enrol, EnrolRequest
from reprocess.record import words
from reprocess.terms import DAY_S, SECOND_US, StreamKind, instant, stream

Several = Strict(strict=False)
Id = Annotated[str, StringConstraints(pattern=r"^[A-Z0-9]+(-[A-Z0-9]+)*$", max_length=32)]
Line = Annotated[str, StringConstraints(min_length=1, max_length=120)]
Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=40)]
Day = Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}-\d{2}$")]
LISTED_MAX = 5_000
"""Most members of one list of a department's file (our choice)."""


class _Block(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class SiteLines(_Block):
    """Is one site: its zone by name, and its policy where it differs from the default."""

    site: Id
    title: Line
    zone: Line
    contact_floor_s: Annotated[int, Field(gt=0, le=86_400)] | None = None
    self_inspection: bool = False

    @model_validator(mode="after")
    def _zone_exists(self) -> SiteLines:
        try:
            ZoneInfo(self.zone)
        except (KeyError, ValueError, OSError) as fault:
            message = f"there is no time zone called {self.zone}"
            raise ValueError(message) from fault
        return self


class StationLines(_Block):
    """Is one station, its site and its side of the bench."""

    station: Id
    title: Line
    site: Id
    side: Literal["dirty", "clean", "any"]


class CompetencyLines(_Block):
    """Is one competency: a step, on some kinds of item (all when left out), `from` inclusive and `until` exclusive."""

    competency: Name
    item_kinds: Annotated[tuple[Name, ...], Several, Field(max_length=60)] = ()
    since: Day
    until: Day
    assessor: Line

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> CompetencyLines:
        if date.fromisoformat(self.until) <= date.fromisoformat(self.since):
            message = "`until` must be later than `since`"
            raise ValueError(message)
        return self


class PersonLines(_Block):
    """Is one person with badges, roles and competencies."""

    person: Id
    name: Line
    sites: Annotated[tuple[Id, ...], Several, Field(max_length=60)] = ()
    roles: Annotated[tuple[Name, ...], Several, Field(max_length=20)] = ()
    badges: Annotated[tuple[Id, ...], Several, Field(max_length=5)] = ()
    competencies: Annotated[tuple[CompetencyLines, ...], Several, Field(max_length=60)] = ()


class InstrumentLines(_Block):
    """Is one measuring instrument and until when its verification counts."""

    instrument: Id
    sort: Name
    site: Id
    serial: Line | None = None
    verified_until: Day | None = None


class ItemLines(_Block):
    """Is one item, or a counted batch with its quantity."""

    item: Id
    workflow: Name
    model: Line
    site: Id
    serial: Line | None = None
    quantity: Annotated[int, Field(gt=0, le=100_000)] = 1
    in_service: Day | None = None
    opened: Day | None = None
    sealed_until: Day | None = None


class FilesLines(_Block):
    """Says who publishes and who approves the shipped files at the founding: two different people (S07).

    Attributes:
        profile: the shipped profile whose workflows alone are put in force, and the profile with them; where absent
            every workflow is, and no profile.
    """

    published_by: Id
    approved_by: Id
    profile: Name | None = None

    @model_validator(mode="after")
    def _two_people(self) -> FilesLines:
        if self.published_by == self.approved_by:
            message = "the one who publishes may not approve (S07)"
            raise ValueError(message)
        return self


class DepartmentFile(_Block):
    """Is a department as its founding file describes it."""

    network: Line
    demo: bool = False
    sites: Annotated[tuple[SiteLines, ...], Several, Field(min_length=1, max_length=200)]
    stations: Annotated[tuple[StationLines, ...], Several, Field(min_length=1, max_length=LISTED_MAX)]
    people: Annotated[tuple[PersonLines, ...], Several, Field(max_length=LISTED_MAX)] = ()
    instruments: Annotated[tuple[InstrumentLines, ...], Several, Field(max_length=LISTED_MAX)] = ()
    files: FilesLines | None = None
    items: Annotated[tuple[ItemLines, ...], Several, Field(max_length=LISTED_MAX)] = ()

    @model_validator(mode="after")
    def _names_exist(self) -> DepartmentFile:
        sites = {one.site for one in self.sites}
        people = {one.person for one in self.people}
        used = [one.site for one in self.stations]
        used += [one.site for one in self.instruments] + [one.site for one in self.items]
        used += [site for one in self.people for site in one.sites]
        lost = sorted({site for site in used if site not in sites})
        if lost:
            message = f"these sites are used but not listed: {', '.join(lost)}"
            raise ValueError(message)
        badges = [badge for one in self.people for badge in one.badges]
        if len(badges) != len(set(badges)):
            message = "a badge stands with two people"
            raise ValueError(message)
        if self.files is not None and not {self.files.published_by, self.files.approved_by} <= people:
            message = "`published_by` and `approved_by` name people of this file"
            raise ValueError(message)
        return self


def enrolments(file: DepartmentFile) -> Iterator[EnrolRequest]:
    """Yields the first facts of a department, places and people first, items not yet."""
    for site in file.sites:
        opened = words.SiteOpened(
            title=site.title,
            zone=site.zone,
            contact_floor_s=site.contact_floor_s,
            self_inspection=site.self_inspection,
            demo=file.demo,
        )
        yield Enrol(stream(StreamKind.SITE, site.site), opened)
    for station in file.stations:
        body = words.StationOpened(title=station.title, site=station.site, side=station.side)
        yield Enrol(stream(StreamKind.STATION, station.station), body)
    zone = file.sites[0].zone
    for person in file.people:
        yield from _person(person, zone)
    for tool in file.instruments:
        name = stream(StreamKind.INSTRUMENT, tool.instrument)
        yield Enrol(name, words.InstrumentRegistered(sort=tool.sort, site=tool.site, serial=tool.serial))
        if tool.verified_until is not None:
            until = day_us(tool.verified_until, zone) + DAY_S * SECOND_US
            yield Enrol(name, words.InstrumentVerified(until_us=until, reference="founding file"))


def _person(person: PersonLines, zone: str) -> Iterator[EnrolRequest]:
    name = stream(StreamKind.PERSON, person.person)
    yield Enrol(name, words.PersonRegistered(name=person.name, sites=person.sites, roles=person.roles))
    for badge in person.badges:
        yield Enrol(name, words.BadgeGiven(badge=badge))
    for one in person.competencies:
        granted = words.CompetencyGranted(
            competency=one.competency,
            item_kinds=one.item_kinds,
            from_us=day_us(one.since, zone),
            until_us=day_us(one.until, zone),
            assessor=one.assessor,
        )
        yield Enrol(name, granted)


def commissions(file: DepartmentFile) -> Iterator[tuple[str, Commission]]:
    """Yields (site, commission) for every item of the file."""
    zones = {one.site: one.zone for one in file.sites}
    for item in file.items:
        zone = zones[item.site]
        yield (
            item.site,
            Commission(
                item=item.item,
                workflow=item.workflow,
                model=item.model,
                serial=item.serial,
                quantity=item.quantity,
                in_service_us=_maybe(item.in_service, zone),
                opened_us=_maybe(item.opened, zone),
                sealed_expiry_us=_maybe(item.sealed_until, zone),
            ),
        )


def _maybe(day: str | None, zone: str) -> int | None:
    return None if day is None else day_us(day, zone)


def day_us(day: str, zone: str) -> int:
    """Returns the instant at which a local day begins.

    Raises:
        ValueError: the text is not a date.
    """
    begin = datetime.combine(date.fromisoformat(day), time(), tzinfo=ZoneInfo(zone))
    return instant(begin.astimezone(UTC))
