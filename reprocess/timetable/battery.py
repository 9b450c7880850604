"""The reminders of a charged battery: it is topped up when it lay idle for a month (B04)."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.record.standing import Standing
from reprocess.rules.batteries import IDLE_US, charging_step
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream
from reprocess.timetable.due import AHEAD, SOON, Due, Words, key_of

DAYS_AHEAD: Final = 7
"""Days before a top-up is due on which it is brought to mind (R05)."""


def of_charge(item: Standing, workflow: Workflow) -> list[Due]:
    """Returns when a charged battery is to be topped up; nothing for what is not charged."""
    step = charging_step(workflow)
    charged = item.satisfied.get(step.step) if step is not None else None
    if charged is None:
        return []
    over_us = charged.ended.wall_us + IDLE_US
    subject = stream(StreamKind.ITEM, item.item)
    held: Words = {"site": item.site, "item": item.item, "at_us": over_us}
    ahead_us = over_us - DAYS_AHEAD * DAY_S * SECOND_US
    cause = str(charged.number)
    return [
        Due(key_of("B04", subject, cause, "near"), subject, "B04", ahead_us, AHEAD, held | {"say": "top-up-near"}),
        Due(key_of("B04", subject, cause, "over"), subject, "B04", over_us, SOON, held | {"say": "top-up-due"}),
    ]
