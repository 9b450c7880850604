"""The reminders of a person: competencies that run out (A05)."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from reprocess.record.people import Competency, Person
from reprocess.terms import StreamKind, stream
from reprocess.timetable.days import at_hour, local_date
from reprocess.timetable.due import AHEAD, GRAVE, Due, Words, key_of

DAYS_AHEAD: Final = (30, 14, 7)
"""Days before the end of a competency on which it is brought to mind (R07)."""


def for_person(person: Person, site: str, zone: str, changed_us: int) -> tuple[Due, ...]:
    """Returns every reminder that a person's competencies call for.

    Args:
        person: who it is.
        site: where the person is reminded, as its id.
        zone: the time zone of that site.
        changed_us: when the person's latest entry was recorded; what had ended or was withdrawn by then is past.
    """
    if not person.active:
        return ()
    found: dict[str, Due] = {}
    for one in person.competencies:
        if one.until_us > changed_us and not any(_outlasts(other, one) for other in person.competencies):
            for due in _of_competency(person, one, site, zone):
                found[due.key] = due
    return tuple(found.values())


def _outlasts(other: Competency, one: Competency) -> bool:
    """Tells whether another grant goes on without a gap where this one ends."""
    wider = not other.item_kinds or (bool(one.item_kinds) and set(one.item_kinds) <= set(other.item_kinds))
    return other.competency == one.competency and wider and other.from_us <= one.until_us < other.until_us


def _of_competency(person: Person, one: Competency, site: str, zone: str) -> list[Due]:
    subject = stream(StreamKind.PERSON, person.person)
    # `until` is exclusive: the last day is the one that lies before it.
    last = local_date(zone, one.until_us - 1)
    kinds = "+".join(sorted(one.item_kinds)) or "all"
    words: Words = {
        "say": "competency-near",
        "site": site,
        "name": person.name,
        "competency": one.competency,
        "kinds": kinds,
        "day": last.isoformat(),
        "at_us": one.until_us,
    }
    cause = f"{one.competency}-{kinds}-{last.isoformat()}"
    found = []
    for days in DAYS_AHEAD:
        due_us = at_hour(zone, local_date(zone, one.until_us) - timedelta(days=days))
        if due_us >= one.from_us:
            severity = GRAVE if days == DAYS_AHEAD[-1] else AHEAD
            found.append(Due(key_of("A05", subject, cause, f"-{days}"), subject, "A05", due_us, severity, words))
    return found
