"""The reminder of a site's queue: what is unusual must be looked at within a day (D14)."""

from __future__ import annotations

from typing import Final

from reprocess.terms import DAY_S, SECOND_US
from reprocess.timetable.due import GRAVE, Due, key_of

WITHIN_S: Final = DAY_S
"""So long an unusual entry may wait until the supervisor is reminded (D14, catalogue)."""


def queue_of(site: str) -> str:
    """Returns the subject of a site's queue, such as `review:LMG`."""
    return f"review:{site}"


def for_queue(site: str, *, oldest_us: int, oldest_feed: int, waiting: int) -> tuple[Due, ...]:
    """Returns the reminder of a queue, counted from the oldest entry in it; none where nothing waits."""
    if not waiting:
        return ()
    subject = queue_of(site)
    due_us = oldest_us + WITHIN_S * SECOND_US
    words: dict[str, str | int] = {"say": "review-waits", "site": site, "place": site, "waiting": waiting}
    return (Due(key_of("D14", subject, str(oldest_feed), "day"), subject, "D14", due_us, GRAVE, words),)
