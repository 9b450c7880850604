"""An item whose label could not be read waits for a new one (E20)."""

from __future__ import annotations

from typing import Final

from reprocess.record.standing import Standing
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable.due import SOON, Due, Words, key_of

WAITS_S: Final = 900
"""Seconds from the typed code until the new label is called for (our choice, a site parameter)."""


def of_label(item: Standing) -> list[Due]:
    """Returns when the new label is called for, once for each time the code could not be read."""
    if item.relabel_us is None:
        return []
    subject = stream(StreamKind.ITEM, item.item)
    words: Words = {"say": "relabel", "site": item.site, "item": item.item}
    due_us = item.relabel_us + WAITS_S * SECOND_US
    return [Due(key_of("E20", subject, str(item.relabel_us), "label"), subject, "E20", due_us, SOON, words)]
