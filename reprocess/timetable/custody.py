"""The reminders of an item that is out: who has it (U01), is it still good (U05), bring it back (U10, H05, U14)."""

from __future__ import annotations

from typing import Final

from reprocess.record.custody import Custody
from reprocess.record.standing import Standing
from reprocess.rules.custody import GRACE_US, HOUR_US, IDENTIFY_US, expected_us
from reprocess.terms import StreamKind, stream
from reprocess.timetable.due import GRAVE, NOW, SOON, Due, Words, key_of

CHECK_FIRST_US: Final = 4 * HOUR_US
"""When airflow and battery are first looked at in use (R11, site parameter with this default)."""
CHECK_EVERY_US: Final = 2 * HOUR_US
"""And how often from then on."""
CHECKS_MOST: Final = 11
"""Looks in use that are reminded of, up to a day: longer it is overdue anyway (our choice)."""
MISSING_US: Final = 72 * HOUR_US
"""How long after the expected time an item counts as missing (U10, site parameter with this default)."""
ON_ITS_WAY_US: Final = 24 * HOUR_US
"""How long an item may be between two sites (our choice, site parameter with this default)."""
BATTERY: Final = "battery"


def of_custody(item: Standing, custody: Custody) -> list[Due]:
    """Returns every reminder that an item calls for while it is out."""
    match custody.sort:
        case "issued":
            found = [*_identify(item, custody), *_in_use(item, custody), *_back(item, custody)]
        case "moving":
            late_us = custody.since_us + ON_ITS_WAY_US
            found = [_due(item, custody, "C12", ("moving", late_us), GRAVE, {"say": "not-received"})]
        case "missing":
            due_us = custody.since_us + MISSING_US
            found = [_due(item, custody, "U10", ("missing", due_us), GRAVE, {"say": "missing"})]
        case _:
            found = _back(item, custody)
    return found + _held(item, custody)


def _due(item: Standing, custody: Custody, rule: str, when: tuple[str, int], severity: int, words: Words) -> Due:
    subject, (which, due_us) = stream(StreamKind.ITEM, item.item), when
    held: Words = {"site": item.site, "item": item.item, "place": custody.place}
    return Due(key_of(rule, subject, str(custody.number), which), subject, rule, due_us, severity, held | words)


def _identify(item: Standing, custody: Custody) -> list[Due]:
    """Returns that whoever has it is to be named: at once, and when the time for it is over (U01)."""
    if custody.wearer is not None:
        return []
    until_us = custody.since_us + IDENTIFY_US
    first = _due(item, custody, "U01", ("name", custody.since_us), SOON, {"say": "identify", "at_us": until_us})
    return [first, _due(item, custody, "U01", ("unnamed", until_us), GRAVE, {"say": "identify-over"})]


def _in_use(item: Standing, custody: Custody) -> list[Due]:
    """Returns when airflow and battery are looked at in use, of what has a battery and is not taken off (U05, R11)."""
    off = item.wear is not None and item.wear.off_us is not None
    if BATTERY not in custody.members or off:
        return []
    first_us = custody.since_us + CHECK_FIRST_US
    return [
        _due(item, custody, "R11", (f"look-{n + 1}", first_us + n * CHECK_EVERY_US), NOW, {"say": "look-in-use"})
        for n in range(CHECKS_MOST)
    ]


def _back(item: Standing, custody: Custody) -> list[Due]:
    """Returns when it is overdue, and when it counts as missing (U10, R06, U14)."""
    back_us = expected_us(custody)
    grace_us = 0 if custody.sort == "lent" else GRACE_US
    rule = "U14" if custody.sort == "lent" else "R06"
    return [
        _due(item, custody, rule, ("late", back_us + grace_us), GRAVE, {"say": "not-returned"}),
        _due(item, custody, "U10", ("missing", back_us + MISSING_US), GRAVE, {"say": "missing"}),
    ]


def _held(item: Standing, custody: Custody) -> list[Due]:
    """Returns that what is held and out comes back: leave, finish safely, hand it in (H05)."""
    if custody.sort == "moving":
        return []
    return [
        _due(
            item,
            custody,
            "H05",
            (one.hold, max(one.placed_us, custody.since_us)),
            NOW,
            {"say": "held-outside", "hold": one.hold},
        )
        for one in item.holds.values()
    ]
