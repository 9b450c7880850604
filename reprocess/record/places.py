"""The standing of sites, stations, instruments and files, folded from their streams."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.machines import RECORDS_KEPT, Programme
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Site:
    """Is a site with its time zone (for display) and its policy.

    Attributes:
        contact_floor_s: no contact at this site is shorter, whatever the label says (T01).
        self_inspection: whether a small site lets the cleaner inspect (the switch of S01).
        quiet: the local hours in which a role is not rung at, each as (begins, ends).
        opened_us: when it began to work with this record.
        evaluated_us: when its programme was last evaluated (R12).
        competency_hold: whether items are held whose steps were done without a valid competency (A06).
        emergency_until_us: until when an emergency policy is in force, or None (A09).
        vapour: the places where the vapour of a disinfectant is too strong; no soak begins meanwhile (L14).
    """

    site: str
    title: str = ""
    zone: str = "UTC"
    contact_floor_s: int | None = None
    self_inspection: bool = False
    demo: bool = False
    number: int = 0
    quiet: dict[str, tuple[str, str]] = field(default_factory=dict)
    opened_us: int | None = None
    evaluated_us: int | None = None
    competency_hold: bool = False
    emergency_until_us: int | None = None
    vapour: tuple[str, ...] = ()


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
        excused: whether its missing verification was overridden once since it was last verified (M09).
        part_of: the charger that a bay is part of.
        models: the models of battery that a bay may charge; any when empty (C08).
        least_c: how cold a battery may be in this bay, as text; `most_c` is how warm (B02).
        verified_us: when it was last verified; of a washer that is its daily test (W01).
        verified_feed: the entry that says so, in the order of the whole record (H08).
        programmes: what a machine can do, by name (W02).
        running: the load that a machine runs, or None.
        records: the logger records of a machine's latest loads, by digest, so that none stands for two loads (W07).
    """

    instrument: str
    sort: str = ""
    site: str = ""
    verified_until_us: int | None = None
    faulty: bool = False
    faulty_us: int | None = None
    part_of: str | None = None
    models: tuple[str, ...] = ()
    least_c: str | None = None
    most_c: str | None = None
    verified_feed: int = 0
    number: int = 0
    excused: bool = False
    verified_us: int | None = None
    programmes: dict[str, Programme] = field(default_factory=dict)
    running: str | None = None
    records: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Published:
    """Is a file's standing: the digest in force and the one that waits for a second person.

    Attributes:
        confirmed: the digest whose sources a named person confirmed, or None (trade 8.3).
        confirmed_by: that person.
    """

    name: str
    sort: str = ""
    in_force: str | None = None
    proposed: str | None = None
    proposed_by: str | None = None
    number: int = 0
    approved_us: int | None = None
    confirmed: str | None = None
    confirmed_by: str | None = None


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
            opened_us=entry.at_us,
            competency_hold=bool(body.competency_hold),
        )
    if isinstance(body, words.EmergencyDeclared):
        return replace(site, number=entry.number, emergency_until_us=body.until_us)
    if isinstance(body, words.QuietHoursSet):
        others = {role: hours for role, hours in site.quiet.items() if role != body.role}
        own = {body.role: (body.begins, body.ends)} if body.begins is not None and body.ends is not None else {}
        return replace(site, number=entry.number, quiet=others | own)
    if isinstance(body, words.VapourAlarmed):
        return replace(site, number=entry.number, vapour=tuple(sorted({*site.vapour, _vapour(body)})))
    if isinstance(body, words.VapourCleared):
        left = tuple(one for one in site.vapour if one != _vapour(body))
        return replace(site, number=entry.number, vapour=left)
    if isinstance(body, words.ProgrammeEvaluated):
        return replace(site, number=entry.number, evaluated_us=entry.occurred_us)
    return replace(site, number=entry.number)


def _vapour(body: words.VapourAlarmed | words.VapourCleared) -> str:
    """Returns the name under which a site keeps an alarm: where, and of what."""
    return f"{body.place} {body.vapour}"


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
            return replace(
                after,
                instrument=subject_of(entry.stream),
                sort=body.sort,
                site=body.site,
                part_of=body.part_of,
                models=body.models or (),
                least_c=body.least_c,
                most_c=body.most_c,
            )
        case words.InstrumentVerified():
            return replace(
                after,
                verified_until_us=body.until_us,
                verified_us=entry.at_us,
                verified_feed=entry.feed,
                faulty=False,
                excused=False,
            )
        case words.OverrideUsed():
            return replace(after, excused=True)
        case words.InstrumentFaulty():
            return replace(after, faulty=True, faulty_us=max(entry.at_us, after.faulty_us or 0))
        case _:
            return machine_after(after, entry.body)


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
            return replace(after, in_force=body.digest, proposed=None, proposed_by=None, approved_us=entry.at_us)
        case words.SourcesConfirmed():
            return replace(after, confirmed=body.digest, confirmed_by=entry.envelope.actor)
        case _:
            return after


def machine_after(machine: Instrument, body: words.Body) -> Instrument:
    """Returns a machine after an entry about its programmes or its loads."""
    match body:
        case words.MachineProgrammeSet():
            one = Programme(body.programme, body.hottest_c, body.lasts_s)
            return replace(machine, programmes={**machine.programmes, body.programme: one})
        case words.MachineStarted():
            return replace(machine, running=body.load)
        case words.MachineStopped():
            kept = machine.records if body.record is None else (*machine.records, body.record)[-RECORDS_KEPT:]
            return replace(machine, running=None if machine.running == body.load else machine.running, records=kept)
        case _:
            return machine
