"""What one request must be judged on, read from the record inside the request's own transaction."""

from __future__ import annotations

from reprocess.gathering.identity import meant
from reprocess.gathering.pseudonyms import pseudonymous
from reprocess.gathering.reading import (
    Library,
    bench,
    file_of,
    local,
    local_day,
    local_text,
    offset_min,
    part_of,
    parts_of,
    person_by_badge,
    published_stream,
    resting_on,
    state_as,
    wholes_of,
)
from reprocess.gathering.scenes import scene_for

__all__ = [
    "Library",
    "bench",
    "file_of",
    "local",
    "local_day",
    "local_text",
    "meant",
    "offset_min",
    "part_of",
    "parts_of",
    "person_by_badge",
    "pseudonymous",
    "published_stream",
    "resting_on",
    "scene_for",
    "state_as",
    "wholes_of",
]
