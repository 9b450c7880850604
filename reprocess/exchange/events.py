"""Entries as those outside are given them: one shape for the feed, and CloudEvents 1.0 for what is handed over.

Source: CloudEvents specification 1.0.2, "Context Attributes", and its JSON event format, "Structured Content Mode"
(https://github.com/cloudevents/spec/blob/v1.0.2/cloudevents/spec.md); the extensions `sequence` and `partitionkey` are
documented ones (cloudevents/extensions/sequence.md, partitioning.md).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta, timezone
from typing import Any, Final, get_args

import orjson

from reprocess.ledger.append import Transaction
from reprocess.ledger.feed import Sealed
from reprocess.record import words
from reprocess.record.catalogue import SCOPE_OF, Kind, Topic, kind_of, topic_of
from reprocess.record.entry import Entry
from reprocess.record.form import body_text
from reprocess.record.words import EvidenceClass
from reprocess.terms import StreamKind, as_datetime, stream

SPEC_VERSION: Final = "1.0"
MEDIA_TYPE: Final = "application/cloudevents+json"
SEQUENCE_DIGITS: Final = 20
"""Digits of a number of the record, with zeros before it, so that text sorts as numbers do: more than 64 bits need."""
WEARING: Final = "wearing"
"""The family in which whoever acts is whoever wears."""
WEARER_FIELDS: Final = ("wearer", "wearers")
DOERS: Final = ("done_by", "done_with")
HIDDEN: Final = re.compile(r"\bW-[0-9A-F]{16}\b|\b(?:wearer|case):")
"""What tells of a wearer or an exposure case: a pseudonym as we make them, or the name of such a stream."""


@dataclass(frozen=True, slots=True)
class Told:
    """Is what one reader is told of an entry: its body, what is left out of it, and whether nobody is named."""

    body: dict[str, Any]
    without: tuple[str, ...]
    nameless: bool


@dataclass(frozen=True, slots=True)
class Sight:
    """Is what somebody outside may see of the record and wants of it.

    Attributes:
        scopes: the rights beyond the open topic, such as `wearers:read`.
        cases: whether exposure cases may be seen; no token ever may.
        limits: the sites to which the right to see is limited; every site where empty.
        kinds: the kinds of entry wanted; all of them where empty.
        sites: the sites wanted; every site where empty.
    """

    scopes: frozenset[str] = frozenset()
    cases: bool = False
    limits: frozenset[str] = frozenset()
    kinds: frozenset[str] = frozenset()
    sites: frozenset[str] = frozenset()

    def sees(self, topic: Topic) -> bool:
        """Tells whether entries of a topic may be seen."""
        if topic == "cases":
            return self.cases
        needed = SCOPE_OF[topic]
        return needed is None or needed in self.scopes


def told(read: Transaction, sealed: Sealed, sight: Sight) -> dict[str, Any] | None:
    """Returns an entry as it is given to somebody, or None where they did not ask for such a one.

    What was asked for and may not be seen keeps its place: `{"feed": 41, "withheld": true, "family": "cases"}`. So the
    numbers that a reader without filters gets have no gap, and nothing that is missing looks like a loss.
    """
    entry, kind = sealed.entry, kind_of(sealed.entry.body)
    if sight.kinds and entry.kind not in sight.kinds:
        return None
    sites = _sites(read, entry)
    if sight.sites and sites and not sight.sites & set(sites):
        return None
    body, without = _body(entry, kind, sight)
    elsewhere = sight.limits and sites and not sight.limits & set(sites)
    if elsewhere or not sight.sees(_topic(entry, kind, body)):
        return {"feed": sealed.feed, "withheld": True, "family": kind.family}
    nameless = kind.family == WEARING and not sight.sees("wearers")
    return _fields(sealed, kind, sites[0] if sites else None, Told(body, tuple(without), nameless))


def event(ledger: str, given: Mapping[str, Any]) -> bytes:
    """Returns one CloudEvent in structured mode: the same bytes for the same entry and reader, at every try.

    Args:
        ledger: the id of the record, which with the entry's own makes the event unique.
        given: the entry as it is given to this reader; not one that is withheld.
    """
    envelope = {
        "specversion": SPEC_VERSION,
        "id": given["id"],
        "source": f"/ledgers/{ledger}",
        "type": given["type"],
        "subject": given["stream"],
        "time": given["occurred_at"],
        "datacontenttype": "application/json",
        "sequence": str(given["feed"]).zfill(SEQUENCE_DIGITS),
        "partitionkey": given["stream"],
        "data": dict(given),
    }
    return orjson.dumps(envelope, option=orjson.OPT_SORT_KEYS)


def _sites(read: Transaction, entry: Entry) -> tuple[str, ...]:
    """Returns where an entry was made and where its subject belongs; nothing for what belongs to the whole network."""
    kind, _, name = entry.stream.partition(":")
    own = name if kind == StreamKind.SITE else getattr(read.state(entry.stream), "site", None)
    at = entry.envelope.station
    there = getattr(read.state(stream(StreamKind.STATION, at)), "site", None) if at is not None else None
    return tuple(dict.fromkeys(one for one in (there, own) if one))


def _body(entry: Entry, kind: Kind, sight: Sight) -> tuple[dict[str, Any], list[str]]:
    """Returns the body without what this reader may not see, and the names of what is left out."""
    body: dict[str, Any] = orjson.loads(body_text(entry.body))
    if sight.sees("wearers"):
        return body, []
    hidden = {*WEARER_FIELDS, *(DOERS if kind.family == WEARING else ())}
    without = sorted(hidden & set(body))
    return {name: held for name, held in body.items() if name not in without}, without


def _topic(entry: Entry, kind: Kind, body: Mapping[str, Any]) -> Topic:
    """Returns the topic of an entry: an open kind that names a wearer or a case all the same is not open."""
    topic = topic_of(entry.stream, kind)
    if topic != "open":
        return topic
    found = HIDDEN.search(entry.stream) or HIDDEN.search(orjson.dumps(body).decode())
    if found is None:
        return "open"
    return "cases" if found.group().startswith("case") else "wearers"


def _fields(sealed: Sealed, kind: Kind, site: str | None, told: Told) -> dict[str, Any]:
    entry, envelope = sealed.entry, sealed.entry.envelope
    return {
        "feed": sealed.feed,
        "id": entry.id,
        "type": kind.type,
        "kind": kind.kind,
        "version": kind.version,
        "family": kind.family,
        "stream": entry.stream,
        "number": entry.number,
        "occurred_at": rfc3339(entry.occurred_us),
        "recorded_at": rfc3339(entry.at_us),
        "local_at": local_text(entry.occurred_us, envelope.offset_min),
        "site": site,
        "station": envelope.station,
        "actor": None if told.nameless else envelope.actor,
        "second": None if told.nameless else envelope.second,
        "identity": envelope.identity,
        "workflow": _workflow(entry),
        "evidence": _evidence(entry),
        "body": told.body,
        "without": [*told.without, *(("actor", "second") if told.nameless else ())],
        "digest": sealed.digest,
        "prev": sealed.prev,
    }


def _workflow(entry: Entry) -> str | None:
    """Returns the digest of the workflow that an entry names, where it names one."""
    named = hasattr(entry.body, "workflow") or isinstance(entry.body, words.ItemReleased)
    return str(getattr(entry.body, "digest", "")) if named else None


def _evidence(entry: Entry) -> str | None:
    """Returns the class of the evidence that an entry is: measured, attested or imported; None where it is none."""
    said = getattr(entry.body, "evidence", None)
    return said if said in get_args(EvidenceClass) else None


def rfc3339(at_us: int) -> str:
    """Returns an instant as RFC 3339 in UTC to the microsecond, such as `2026-03-05T07:05:00.000000Z`."""
    return as_datetime(at_us).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def local_text(at_us: int, offset_min: int) -> str:
    """Returns an instant as RFC 3339 in the local time that the site had then, to the second, with its offset."""
    zone = timezone(timedelta(minutes=offset_min))
    return as_datetime(at_us).astimezone(zone).isoformat(timespec="seconds")
