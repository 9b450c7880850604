"""The standing of consents to requests about one subject: who agreed to what, and is not used yet (S08, E36)."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment, elapsed
from reprocess.terms import SECOND_US, subject_of

CONSENT_US = 300 * SECOND_US
"""How long a second person's consent waits for the request that it is about (S08)."""


@dataclass(frozen=True, slots=True)
class Consent:
    """Is one person's consent that no request has used yet."""

    number: int
    person: str
    to: str
    about: str | None
    at_us: int
    station: str | None
    moment: Moment

    def is_fresh(self, now: Moment) -> bool:
        """Tells whether it may still serve a request, by the wall clock and by the one that nobody sets."""
        since = elapsed(self.moment, now)
        return abs(since.wall_us) <= CONSENT_US and not (since.same_boot and since.greatest_us > CONSENT_US)


@dataclass(frozen=True, slots=True)
class Consents:
    """Is what waits about one subject, oldest first; what is too old for any request is dropped at the next one."""

    subject: str
    waiting: tuple[Consent, ...] = ()
    number: int = 0


def apply(consents: Consents, entry: Entry) -> Consents:
    """Returns the consents after one more entry of the stream."""
    body = entry.body
    after = replace(consents, subject=subject_of(entry.stream), number=entry.number)
    match body:
        case words.ConsentGiven() if entry.envelope.actor is not None:
            recent = tuple(one for one in consents.waiting if one.is_fresh(entry.envelope.moment))
            person, station = entry.envelope.actor, entry.envelope.station
            one = Consent(entry.number, person, body.to, body.about, entry.at_us, station, entry.envelope.moment)
            return replace(after, waiting=(*recent, one))
        case words.ConsentUsed():
            return replace(after, waiting=tuple(one for one in consents.waiting if one.number not in body.numbers))
        case _:
            return after
