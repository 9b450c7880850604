"""The reminders of the programme as a whole: its evaluation once a year and the review of its files (R12)."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from reprocess.quantities.calendar import Months, Reading, next_due
from reprocess.record.places import Published, Site
from reprocess.terms import StreamKind, stream
from reprocess.timetable.days import at_hour, end_of_day, local_date
from reprocess.timetable.due import AHEAD, GRAVE, Due, Words, key_of

YEARLY: Final = Months(12, Reading.SAME_DAY)
"""A programme is evaluated, and each of its files reviewed, once a year: common practice, a site parameter."""
DAYS_AHEAD: Final = 30
"""Days before that day on which it is brought to mind (our choice)."""
REVIEWED: Final = ("workflow", "profile")
"""The sorts of file that say what is done; a label is its maker's, and changes when that does."""


def for_site(site: Site) -> tuple[Due, ...]:
    """Returns when a site's programme is evaluated next: a year after the last time, or after it was opened."""
    since_us = site.evaluated_us if site.evaluated_us is not None else site.opened_us
    if since_us is None:
        return ()
    subject = stream(StreamKind.SITE, site.site)
    words: Words = {"site": site.site, "place": site.title or site.site}
    return _yearly(subject, since_us, site.zone, "evaluation", words)


def for_file(file: Published, name: str, site: str, zone: str) -> tuple[Due, ...]:
    """Returns when a file in force is reviewed next: a year after a second person approved it.

    Args:
        file: where the file stands.
        name: its stream.
        site: where its review is brought to mind, as its id.
        zone: the time zone of that site.
    """
    if file.in_force is None or file.approved_us is None or file.sort not in REVIEWED:
        return ()
    words: Words = {"site": site, "file": file.name}
    return _yearly(name, file.approved_us, zone, "review", words)


def _yearly(subject: str, since_us: int, zone: str, what: str, words: Words) -> tuple[Due, ...]:
    day = next_due(YEARLY, local_date(zone, since_us))
    cause, over_us = f"{what}-{day.isoformat()}", end_of_day(zone, day)
    told = words | {"day": day.isoformat(), "at_us": over_us}
    near_us = at_hour(zone, day - timedelta(days=DAYS_AHEAD))
    near = key_of("R12", subject, cause, f"-{DAYS_AHEAD}")
    over = key_of("R12", subject, cause, "over")
    return (
        Due(near, subject, "R12", near_us, AHEAD, told | {"say": f"{what}-near"}),
        Due(over, subject, "R12", over_us, GRAVE, told | {"say": f"{what}-over"}),
    )
