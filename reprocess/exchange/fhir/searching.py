"""Reading the record as resources: one by its id, or a page of a search. Every page costs a bounded reading.

The id of what comes from an entry is the entry's number in the whole record, which never changes. Such resources come
in the order of their latest change, so that whoever reads on from the last page sees what changed since.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from reprocess.definitions.configuration import Configuration
from reprocess.errors import WrongUseError
from reprocess.exchange.fhir import devices
from reprocess.exchange.fhir.asking import COUNT_MAX, Search
from reprocess.exchange.fhir.audit import audit_event
from reprocess.exchange.fhir.observations import observations
from reprocess.exchange.fhir.terms import Json, Made, Seeing, ours
from reprocess.exchange.fhir.work import dispenses, tasks
from reprocess.gathering import Library, file_of, state_as
from reprocess.ledger.append import Transaction
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.places import Instrument, Published, Station
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.scan.device_label import read_device_label
from reprocess.scan.identifier import DeviceIdentifier
from reprocess.terms import StreamKind, as_datetime, as_text, stream, subject_of

SCAN_MAX: Final = 1_000
"""Entries that one page looks at; a page that ends by it says where the next one begins (our choice)."""


@dataclass(frozen=True, slots=True)
class Page:
    """Is one page: what was found, and where the next one begins."""

    found: list[Json]
    more: str | None = None
    total: int | None = None


@dataclass(slots=True)
class Facade:
    """Is one reading of the record as resources.

    Attributes:
        sites: the only sites that the caller may read; all of them where empty.
        now_us: the instant at which availability is told.
        hidden: the kinds of stream that the caller may not read, such as `solution`.
    """

    read: Transaction
    library: Library
    seeing: Seeing
    now_us: int
    sites: frozenset[str] = frozenset()
    hidden: frozenset[str] = frozenset()
    _streams: dict[str, dict[int, list[Json]]] = field(default_factory=dict)

    def one(self, kind: str, name: str) -> Json | None:
        """Returns a resource by its id, or None where there is none that the caller may see."""
        if kind == "Device":
            return self._device(name)
        if kind == "DeviceDefinition":
            return next((one for one in self._definitions() if one["id"] == name), None)
        feed = name.partition(".")[0]
        if not (feed.isascii() and feed.isdigit() and len(feed) <= _FEED_DIGITS):
            return None
        entry = self.read.entry(int(feed))
        if entry is None or not self._may(entry):
            return None
        made = self._made(kind, entry)
        return next((one.resource for one in made if one.resource["id"] == name), None)

    def page(self, search: Search) -> Page:
        """Returns one page of a search."""
        self._streams.clear()
        if search.id is not None:
            one = self.one(search.kind, search.id)
            found = [one] if one is not None and _fits(one, search) else []
            return Page(found, None, len(found))
        if search.kind == "Device":
            return self._devices(search)
        if search.kind == "DeviceDefinition":
            named = sorted(self._definitions(), key=lambda one: str(one["id"]))
            return _cut([one for one in named if _has(one, search.token)], search)
        return self._entries(search)

    def everything(self, kind: str) -> Iterator[Json]:
        """Yields every resource of a kind; what comes from entries comes stream by stream, each read once."""
        if kind in _MAKERS:
            for sort in sorted(_STREAMS[kind] - self.hidden):
                for name, _, state in self.read.each_of(sort):
                    if self._at(getattr(state, "site", "")):
                        made = _MAKERS[kind](self.read.entries_of(name), self.seeing)
                        yield from (one.resource for one in made)
            return
        after: str | None = None
        while True:
            page = self.page(Search(kind, COUNT_MAX, after=after))
            yield from page.found
            if page.more is None:
                return
            after = page.more

    def _devices(self, search: Search) -> Page:
        if search.token is not None:
            system, value = search.token
            name = devices.instrument_id(value) if system == ours("instrument") else value
            one = self._device(name)
            found = [one] if one is not None and _has(one, search.token) and _fits(one, search) else []
            return Page(found, None, len(found))
        found = []
        for one in self._each_device(search.after or ""):
            if len(found) > search.count:
                break
            if _fits(one, search):
                found.append(one)
        return _cut(found, search, whole=False)

    def _each_device(self, after: str) -> Iterator[Json]:
        """Yields the items, and then the instruments, whose ids begin with a small letter, by id."""
        for _, _, item in self.read.each_of(StreamKind.ITEM):
            if isinstance(item, Standing) and item.number and item.item > after and self._at(item.site):
                yield self._of_item(item)
        for one in self.read.states_of(StreamKind.INSTRUMENT):
            if isinstance(one, Instrument) and one.number and self._at(one.site):
                made = devices.instrument(one)
                if made["id"] > after:
                    yield made

    def _device(self, name: str) -> Json | None:
        if name.startswith(devices.INSTRUMENT):
            known = self.read.states_of(StreamKind.INSTRUMENT)
            made = (devices.instrument(one) for one in known if isinstance(one, Instrument) and self._at(one.site))
            return next((one for one in made if one["id"] == name), None)
        item = self.read.item(name)
        return self._of_item(item) if item.number and self._at(item.site) else None

    def _of_item(self, item: Standing) -> Json:
        label, printed = self._label(item.lot) if item.lot is not None else (None, None)
        return devices.device(item, self.now_us, label, printed)

    def _label(self, lot: str) -> tuple[DeviceIdentifier | None, str | None]:
        """Returns what the label of a lot says, and the label; what it can no longer be read as is left out."""
        for entry in reversed(self.read.entries_of(stream(StreamKind.LOT, lot))):
            if isinstance(entry.body, words.LotReceived) and entry.body.label is not None:
                said = read_device_label(entry.body.label, this_year=as_datetime(entry.at_us).year)
                return (said, entry.body.label) if isinstance(said, DeviceIdentifier) else (None, None)
        return None, None

    def _definitions(self) -> Iterator[Json]:
        kinds: dict[str, set[str]] = {}
        for name in self.read.touches.names(Touched.MODEL):
            row = next(iter(self.read.touches.of(Touched.MODEL, name)), None)
            if row is not None:
                kinds.setdefault(self.read.item(row.item).item_kind, set()).add(name)
        approved = list(self._configurations())
        for slot in (slot for one in approved for slot in one.slots):
            kinds.setdefault(slot.item_kind, set()).update(slot.models)
        for kind, models in kinds.items():
            yield devices.kind(kind, models)
            yield from (devices.model(name, kind) for name in models)
        yield from (devices.configuration(one) for one in approved)

    def _configurations(self) -> Iterator[Configuration]:
        for one in self.read.states_of(StreamKind.WORKFLOW):
            if isinstance(one, Published) and one.sort == "configuration" and one.in_force is not None:
                yield file_of(self.library, self.read, one.in_force, Configuration)

    def _entries(self, search: Search) -> Page:
        begins = self._begins(search)
        found: list[Json] = []
        for entry in self._walk(search, begins):
            if entry is None:
                return Page(found)
            new = [one.resource for one in self._changed(search.kind, entry) if _fits(one.resource, search)]
            if found and len(found) + len(new) > search.count:
                return Page(found, str(entry.feed - 1))
            found += new
            begins = entry.feed
        return Page(found, str(begins))

    def _begins(self, search: Search) -> int:
        """Returns the entry after which a page begins."""
        after = search.after or "0"
        if not (after.isascii() and after.isdigit() and len(after) <= _FEED_DIGITS):
            message = "`_after` is not one that a page named."
            raise WrongUseError(message)
        since = 0 if search.since_us is None else self.read.touches.last_feed_at(search.since_us - 1)
        return max(int(after), since)

    def _walk(self, search: Search, begins: int) -> Iterator[Entry | None]:
        """Yields the entries to look at, and None once there are no more; what ends without it goes on."""
        if search.about is not None and search.kind != "DeviceDispense":
            own = self.read.entries_of(self._stream_of(search.about))
            yield from (one for one in own if one.feed > begins and self._may(one))
            yield None
            return
        page = self.read.feed.after(begins, SCAN_MAX)
        yield from (one.entry for one in page)
        if len(page) < SCAN_MAX:
            yield None

    def _stream_of(self, device: str) -> str:
        """Returns the stream of a Device: of an item, or of an instrument."""
        if not device.startswith(devices.INSTRUMENT):
            return stream(StreamKind.ITEM, device)
        known = self.read.states_of(StreamKind.INSTRUMENT)
        named = (one.instrument for one in known if isinstance(one, Instrument))
        found = next((one for one in named if devices.instrument_id(one) == device), "")
        return stream(StreamKind.INSTRUMENT, found)

    def _changed(self, kind: str, entry: Entry) -> list[Made]:
        """Returns the resources of a kind that an entry was the last to change."""
        if not self._may(entry):
            return []
        if kind == "AuditEvent":
            return [audit_event(entry, self.seeing)]
        return [one for one in self._made(kind, entry) if one.feed == entry.feed]

    def _made(self, kind: str, entry: Entry) -> list[Made]:
        """Returns the resources of a kind that the stream of an entry comes to."""
        if kind == "AuditEvent":
            return [audit_event(entry, self.seeing)]
        if entry.stream.partition(":")[0] not in _STREAMS[kind]:
            return []
        key = f"{kind} {entry.stream}"
        if key not in self._streams:
            by_feed: dict[int, list[Json]] = {}
            for one in _MAKERS[kind](self.read.entries_of(entry.stream), self.seeing):
                by_feed.setdefault(one.feed, []).append(one.resource)
            self._streams[key] = by_feed
        return [Made(feed, one) for feed, made in self._streams[key].items() for one in made]

    def _may(self, entry: Entry) -> bool:
        """Tells whether the caller may read an entry."""
        if entry.stream.partition(":")[0] in self.hidden:
            return False
        return not self.sites or self._at(self._site(entry))

    def _site(self, entry: Entry) -> str:
        """Returns the site of an entry's subject, or of the station where it was written."""
        kind = entry.stream.partition(":")[0]
        own = (
            subject_of(entry.stream) if kind == StreamKind.SITE else getattr(self.read.state(entry.stream), "site", "")
        )
        if own or entry.envelope.station is None:
            return str(own)
        return state_as(self.read, stream(StreamKind.STATION, entry.envelope.station), Station).site

    def _at(self, site: str) -> bool:
        """Tells whether the caller may read what belongs to a site; what belongs to none is for everybody."""
        return not self.sites or not site or site in self.sites


_FEED_DIGITS: Final = 18
_MAKERS: Final[dict[str, Callable[[list[Entry], Seeing], list[Made]]]] = {
    "Task": tasks,
    "DeviceDispense": dispenses,
    "Observation": observations,
}
_STREAMS: Final = {
    "Task": {StreamKind.ITEM},
    "DeviceDispense": {StreamKind.ITEM},
    "Observation": {StreamKind.ITEM, StreamKind.SOLUTION, StreamKind.PLACE, StreamKind.LOAD},
}


def _fits(one: Json, search: Search) -> bool:
    """Tells whether a resource is what a search asks for."""
    changed = str(one.get("meta", {}).get("lastUpdated", ""))
    if search.since_us is not None and changed < as_text(search.since_us):
        return False
    if search.until_us is not None and changed > as_text(search.until_us):
        return False
    if search.status is not None and one.get("status") != search.status:
        return False
    return search.about is None or _about(one) in {search.about, f"Device/{search.about}"}


def _about(one: Json) -> str | None:
    """Returns whom or what a resource is about: the reference, or a wearer's pseudonym."""
    if one["resourceType"] == "DeviceDispense":
        name: str | None = one["subject"].get("identifier", {}).get("value")
        return name
    whole: Any = one["entity"][0]["what"] if "entity" in one else one.get("focus", one.get("subject", {}))
    reference: str | None = whole.get("reference")
    return reference


def _has(one: Json, token: tuple[str | None, str] | None) -> bool:
    if token is None:
        return True
    system, value = token
    known = one.get("identifier", [])
    return any(each["value"] == value and system in (None, each["system"]) for each in known)


def _cut(found: list[Json], search: Search, *, whole: bool = True) -> Page:
    """Returns a page out of resources by id."""
    rest = [one for one in found if str(one["id"]) > (search.after or "")]
    page = rest[: search.count]
    more = str(page[-1]["id"]) if len(rest) > search.count else None
    return Page(page, more, len(found) if whole else None)
