"""The reminders of holds: put in quarantine (H01), how old they are (R09), and again every week (H11)."""

from __future__ import annotations

from typing import Final

from reprocess.record.standing import Hold, Standing
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream
from reprocess.timetable.due import GRAVE, SOON, Due, Words, key_of

HOLD_DAYS: Final = ((3, "owner"), (7, "supervisor"), (14, "quality"))
"""Ages at which an open hold is brought to somebody's mind, and to whose (R09)."""
WEEKLY_DAYS: Final = tuple(range(21, 99, 7))
"""After that every week until a quarter is over, by which a hold is a matter of the review (H11; our choice)."""
QUARANTINE_S: Final = 15 * 60
"""Within this time what failed is scanned into a quarantine place (H01; common practice, no source)."""


def of_holds(item: Standing) -> list[Due]:
    """Returns every reminder of an item's open holds."""
    return [due for one in item.holds.values() for due in (*_quarantine(item, one), *_ages(item, one))]


def _quarantine(item: Standing, one: Hold) -> list[Due]:
    if one.rule != "H01" or one.place is not None:
        return []
    return [_due(item, one, "H01", ("place", QUARANTINE_S, SOON), {"say": "quarantine"})]


def _ages(item: Standing, one: Hold) -> list[Due]:
    found = []
    for days, to in HOLD_DAYS:
        told = one.owner if to == "owner" else to
        words: Words = {"say": "hold-age", "days": days, "to": told}
        found.append(_due(item, one, "R09", (str(days), days * DAY_S, GRAVE), words))
    for days in WEEKLY_DAYS:
        words = {"say": "hold-weekly", "days": days, "to": "quality"}
        found.append(_due(item, one, "H11", (str(days), days * DAY_S, GRAVE), words))
    return found


def _due(item: Standing, one: Hold, rule: str, when: tuple[str, int, int], words: Words) -> Due:
    subject, (which, after_s, severity) = stream(StreamKind.ITEM, item.item), when
    told: Words = {"site": item.site, "item": item.item, "hold": one.hold}
    due_us = one.placed_us + after_s * SECOND_US
    return Due(key_of(rule, subject, one.hold, which), subject, rule, due_us, severity, told | words)
