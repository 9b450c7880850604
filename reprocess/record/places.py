"""The standing of sites, stations, instruments and files, folded from their streams."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Site:
    """Is a site with its time zone (for display) and its policy.

    Attributes:
        contact_floor_s: no contact at this site is shorter, whatever the label says (T01).
        self_inspection: whether a small site lets the cleaner inspect (the switch of S01).
    """

    site: str
    title: str = ""
    zone: str = "UTC"
    contact_floor_s: int | None = None
    self_inspection: bool = False
    demo: bool = False
    number: int = 0


@dataclass(frozen=True, slots=True)
class Station:
    """Is a station and the side of the bench on which it stands (P09)."""

    station: str
    title: str = ""
    site: str = ""
    side: str = "any"
    number: int = 0


@dataclass(frozen=True, slots=True)
class Instrument:
    """Is a measuring instrument and whether what it shows may be believed (M02).

    Attributes:
        faulty_us: when it was last found faulty; what it showed until then never counts again (H08).
    """

    instrument: str
    sort: str = ""
    site: str = ""
    verified_until_us: int | None = None
    faulty: bool = False
    faulty_us: int | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Published:
    """Is a file's standing: the digest in force and the one that waits for a second person."""

    name: str
    sort: str = ""
    in_force: str | None = None
    proposed: str | None = None
    proposed_by: str | None = None
    number: int = 0


def apply_site(site: Site, entry: Entry) -> Site:
    """Returns the site after one more entry of its stream."""
    body = entry.body
    if isinstance(body, words.SiteOpened):
        return Site(
            site=subject_of(entry.stream),
            title=body.title,
            zone=body.zone,
            contact_floor_s=body.contact_floor_s,
            self_inspection=body.self_inspection,
            demo=body.demo,
            number=entry.number,
        )
    return replace(site, number=entry.number)


def apply_station(station: Station, entry: Entry) -> Station:
    """Returns the station after one more entry of its stream."""
    body = entry.body
    if isinstance(body, words.StationOpened):
        return Station(subject_of(entry.stream), body.title, body.site, body.side, entry.number)
    return replace(station, number=entry.number)


def apply_instrument(instrument: Instrument, entry: Entry) -> Instrument:
    """Returns the instrument after one more entry of its stream."""
    body = entry.body
    after = replace(instrument, number=entry.number)
    match body:
        case words.InstrumentRegistered():
            return replace(after, instrument=subject_of(entry.stream), sort=body.sort, site=body.site)
        case words.InstrumentVerified():
            return replace(after, verified_until_us=body.until_us, faulty=False)
        case words.InstrumentFaulty():
            return replace(after, faulty=True, faulty_us=max(entry.at_us, after.faulty_us or 0))
        case _:
            return after


def apply_published(published: Published, entry: Entry) -> Published:
    """Returns the file's standing after one more entry of its stream."""
    body = entry.body
    after = replace(published, number=entry.number)
    match body:
        case words.WorkflowPublished():
            return replace(
                after,
                name=body.name,
                sort=body.sort,
                proposed=body.digest,
                proposed_by=entry.envelope.actor,
            )
        case words.WorkflowApproved():
            return replace(after, in_force=body.digest, proposed=None, proposed_by=None)
        case _:
            return after
