"""Entries with fixed columns, so that a test is about one thing."""

from __future__ import annotations

from reprocess.record.entry import Entry, Envelope
from reprocess.record.moment import Moment
from reprocess.record.words import Body

AT_US = 1_772_694_000_000_000
"""2026-03-05T07:00:00Z."""


def entry(
    body: Body,
    number: int = 1,
    *,
    stream: str = "item:BLW-0041",
    at_us: int = AT_US,
    actor: str | None = "P-01",
    second: str | None = None,
) -> Entry:
    """Returns an entry of that body, number and instant; everything else is fixed."""
    return Entry(
        feed=number,
        id=f"id-{number}",
        stream=stream,
        number=number,
        body=body,
        occurred_us=at_us,
        envelope=Envelope(
            moment=Moment(at_us, at_us % 1_000_000_000_000, None, "boot-1", "bench-1"),
            offset_min=0,
            actor=actor,
            second=second,
            station="BENCH",
            key=f"key-{number}",
            request="0" * 32,
        ),
        part=0,
        answer="{}",
    )


def stream_of(*bodies: Body, stream: str = "item:BLW-0041") -> list[Entry]:
    """Returns a stream of these bodies, a second apart."""
    return [
        entry(body, number, stream=stream, at_us=AT_US + number * 1_000_000)
        for number, body in enumerate(bodies, start=1)
    ]
