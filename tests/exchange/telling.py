"""The demo's day and the small department's day, played once, to be told in open standards."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from reprocess.demo.story import play as play_story
from reprocess.record.entry import Entry, Envelope
from reprocess.record.moment import Moment
from reprocess.record.words import Body
from tests.timetable.moments import at

NOON = at("2026-03-05T12:00:00+00:00")
ENVELOPE = Envelope(Moment(NOON, 1, None, "boot", "node"), 0, "P-1", None, "LMG-C1", "key", "digest")


def told_day(path: Path) -> Path:
    """Returns the ledger of the demo's day."""
    play_story(path, lambda _: None)
    return path


def stream_of(name: str, *bodies: Body, actor: str | None = "P-1", second: str | None = None) -> list[Entry]:
    """Returns a stream with one entry a minute."""
    envelope = replace(ENVELOPE, actor=actor, second=second)
    return [
        Entry(
            feed=100 + place,
            id=f"01234567-89ab-7def-8123-{place:012d}",
            stream=name,
            number=place + 1,
            body=body,
            occurred_us=NOON + place * 60_000_000,
            envelope=replace(envelope, moment=replace(envelope.moment, wall_us=NOON + place * 60_000_000)),
            part=0,
        )
        for place, body in enumerate(bodies)
    ]
