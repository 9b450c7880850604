"""The reminders of a measuring instrument: its verification runs out (M02, M09)."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from reprocess.record.places import Instrument
from reprocess.terms import StreamKind, stream
from reprocess.timetable.days import at_hour, local_date
from reprocess.timetable.due import AHEAD, GRAVE, Due, Words, key_of

DAYS_AHEAD: Final = 30
"""Days before the end of a verification on which it is brought to mind (our choice, site parameter)."""


def for_instrument(instrument: Instrument, zone: str) -> tuple[Due, ...]:
    """Returns the reminders that an instrument's verification calls for; a faulty one calls for none."""
    until_us = instrument.verified_until_us
    if until_us is None or instrument.faulty:
        return ()
    subject = stream(StreamKind.INSTRUMENT, instrument.instrument)
    last = local_date(zone, until_us - 1)
    words: Words = {
        "site": instrument.site,
        "instrument": instrument.instrument,
        "day": last.isoformat(),
        "at_us": until_us,
    }
    ahead_us = at_hour(zone, local_date(zone, until_us) - timedelta(days=DAYS_AHEAD))
    ahead = Due(
        key_of("M02", subject, last.isoformat(), f"-{DAYS_AHEAD}"),
        subject,
        "M02",
        ahead_us,
        AHEAD,
        words | {"say": "verification-near"},
    )
    over = Due(
        key_of("M02", subject, last.isoformat(), "over"),
        subject,
        "M02",
        until_us,
        GRAVE,
        words | {"say": "verification-over"},
    )
    return (ahead, over)
