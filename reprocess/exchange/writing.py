"""Tables that go out: every sort with stable headings, one line each, in the order of ids or of the record.

Instants are RFC 3339 with the offset of their site, days are local days. Names of wearers never go out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import IO, Final

import orjson

from reprocess.exchange.cells import Table
from reprocess.gathering import local
from reprocess.ledger.append import Transaction
from reprocess.record.lots import Lot
from reprocess.record.people import Person
from reprocess.record.places import Published, Site
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.record.touching import Touched
from reprocess.record.wearers import Wearer
from reprocess.terms import StreamKind, as_text, stream, subject_of

Cell = str | int | None
LATEST_US: Final = 2**62


@dataclass(slots=True)
class Zones:
    """Is the record with the time zone of each site; what belongs to none is told in that of the first."""

    read: Transaction
    zones: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        sites = (one for one in self.read.states_of(StreamKind.SITE) if isinstance(one, Site))
        self.zones = {one.site: one.zone for one in sites if one.number}

    def zone(self, site: str | None) -> str:
        """Returns the time zone of a site."""
        return self.zones.get(site or "", next(iter(self.zones.values()), "UTC"))

    def instant(self, site: str | None, at_us: int | None) -> str | None:
        """Returns an instant in the local time of a site, with its offset."""
        return None if at_us is None else local(self.zone(site), at_us).isoformat(timespec="seconds")

    def day(self, site: str | None, at_us: int | None) -> str | None:
        """Returns the local day of an instant."""
        return None if at_us is None else local(self.zone(site), at_us).date().isoformat()

    def last_day(self, site: str | None, until_us: int | None) -> str | None:
        """Returns the last local day before an end that does not count any more."""
        return None if until_us is None else self.day(site, until_us - 1)


Lines = Callable[[Zones], Iterator[tuple[Cell, ...]]]


def _items(at: Zones) -> Iterator[tuple[Cell, ...]]:
    due, released = at.read.dues.next_of_each(), at.read.touches.latest(Touched.RELEASED)
    for item in at.read.items():
        if item.known:
            yield _item(at, item, due.get(stream(StreamKind.ITEM, item.item)), released.get(item.item))


def _item(at: Zones, item: Standing, due_us: int | None, released_us: int | None) -> tuple[Cell, ...]:
    return (
        item.item,
        item.site,
        item.item_kind,
        item.model,
        item.serial,
        str(item.stage),
        at.instant(item.site, item.since_us),
        item.custody.place if item.custody is not None else item.place,
        " ".join(sorted(item.holds)),
        at.instant(item.site, due_us),
        item.cycles_done,
        at.instant(item.site, released_us),
        item.workflow,
        item.quantity,
        at.day(item.site, item.in_service_us),
        at.day(item.site, item.opened_us),
        at.last_day(item.site, item.sealed_expiry_us),
    )


def _people(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.people():
        if one.number:
            active = "yes" if one.active else "no"
            yield one.person, one.name, " ".join(one.sites), " ".join(one.roles), " ".join(one.badges), active


def _competencies(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.people():
        yield from _of_person(at, one)


def _of_person(at: Zones, person: Person) -> Iterator[tuple[Cell, ...]]:
    site = person.sites[0] if person.sites else None
    for one in person.competencies:
        first, last = at.day(site, one.from_us), at.last_day(site, one.until_us)
        yield person.person, one.competency, " ".join(one.item_kinds), first, last, one.assessor


def _configurations(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.states_of(StreamKind.WORKFLOW):
        if isinstance(one, Published) and one.sort == "configuration":
            yield one.name, f"{one.name}.yaml", one.sort, one.in_force, "yes" if one.in_force is not None else "no"


def _lots(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.states_of(StreamKind.LOT):
        if isinstance(one, Lot) and one.known:
            last = at.last_day(one.site, one.expiry_us)
            came = one.left + one.used
            yield (
                one.lot, one.product, one.sort, came, one.site, one.unit, last, one.reorder_at, one.left, one.used,
                one.recalled,
            )  # fmt: skip


def _places(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.states_of(StreamKind.PLACE):
        if isinstance(one, Place) and one.known:
            limits = " ".join(f"{name}={span}" for name, span in sorted(one.limits.items()))
            yield (
                one.place, one.title, one.sort, one.zone, one.site, one.par, limits, one.seal, one.every_months,
                " ".join(one.asks), one.grade,
            )  # fmt: skip


def _wearers(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.states_of(StreamKind.WEARER):
        if isinstance(one, Wearer) and one.registered_us:
            cleared = at.last_day(one.site, one.cleared_until_us)
            trained = at.last_day(one.site, one.trained_until_us)
            active = "yes" if one.active else "no"
            yield one.wearer, one.unit, one.site, cleared, trained, " ".join(sorted(one.fits)), active


def _entries(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for one in at.read.each_entry():
        envelope = one.envelope
        body = orjson.dumps(one.body.model_dump(mode="json", exclude_none=True), option=orjson.OPT_SORT_KEYS)
        yield (
            one.feed,
            one.id,
            one.stream,
            one.number,
            one.kind,
            one.body.version,
            as_text(one.occurred_us),
            as_text(envelope.moment.wall_us),
            envelope.offset_min,
            envelope.actor,
            envelope.second,
            envelope.station,
            envelope.key,
            body.decode(),
        )


def _due(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for row in at.read.dues.coming(LATEST_US):
        due = row.due
        site = str(due.words.get("site") or "")
        deadline = due.words.get("at_us")
        yield (
            due.key,
            due.rule,
            due.subject,
            site,
            due.severity,
            str(due.words.get("say")),
            at.instant(site, due.due_us),
            at.instant(site, deadline if isinstance(deadline, int) else due.due_us),
            at.instant(site, row.rang_us),
            at.instant(site, row.seen_us),
            row.level,
        )


def _touches(at: Zones) -> Iterator[tuple[Cell, ...]]:
    for name, _, item in at.read.each_of(StreamKind.ITEM):
        for one in at.read.touches.by(subject_of(name)):
            site = getattr(item, "site", None)
            begins, ends = at.instant(site, one.from_us), at.instant(site, one.until_us)
            where = (one.item, one.number, one.sort, one.name, one.cycle, one.step)
            yield *where, begins, ends, one.from_feed, one.until_feed


_ITEM: Final = (
    "id site kind model serial stage stage_since place holds due_next cycles last_ready_at workflow"
    " quantity in_service opened sealed_until"
)
_TABLES: Final[dict[str, tuple[str, Lines]]] = {
    "items": (
        _ITEM,
        _items,
    ),
    "people": ("id name sites roles badges active", _people),
    "competencies": ("person competency kinds from until assessor", _competencies),
    "configurations": ("name file sort digest in_force", _configurations),
    "lots": ("id product sort quantity site unit expiry reorder_at left used recalled", _lots),
    "places": ("id title sort zone site par limits seal every_months asks grade", _places),
    "wearers": ("id unit site cleared_until trained_until fits active", _wearers),
    "entries": (
        "feed id stream number kind version occurred_at recorded_at offset_min actor second station key body",
        _entries,
    ),
    "due": ("key rule subject site severity say rings due rang seen level", _due),
    "touches": ("item entry_number sort name cycle step begins ends begins_feed ends_feed", _touches),
}

TABLES: Final = {name: tuple(headings.split()) for name, (headings, _) in _TABLES.items()}
"""The headings of every table that can go out, by name; they are stored words."""


def lines_of(name: str, read: Transaction, sites: frozenset[str] = frozenset()) -> Iterator[tuple[Cell, ...]]:
    """Yields the lines of a table; of one that has a `site`, only those of the sites that are named, if any are."""
    place = TABLES[name].index("site") if sites and "site" in TABLES[name] else None
    for line in _TABLES[name][1](Zones(read)):
        if place is None or not line[place] or line[place] in sites:
            yield line


def write_table(file: IO[str], name: str, read: Transaction, sites: frozenset[str] = frozenset()) -> int:
    """Writes a table, and returns how many lines it has beside its headings; see `lines_of` for the sites."""
    table = Table(file, TABLES[name])
    count = 0
    for line in lines_of(name, read, sites):
        table.write(line)
        count += 1
    return count
