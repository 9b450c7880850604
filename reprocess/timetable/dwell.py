"""The reminders of an open dwell: wet again (T03), met and to be confirmed (T17, R02), longest time (T06)."""

from __future__ import annotations

from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.record.moment import Moment
from reprocess.record.standing import OpenDwell, Standing
from reprocess.rules.contact import CUE_SHARE
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable.due import GREATEST, LEAST, NOW, SOON, Due, Words, clock_words, key_of

CONFIRM_S: Final = 600
"""How long a met contact may wait for its scan where its file does not say (T17, site parameter, this default)."""
NEAR_S: Final = 300
"""How long before the longest time the first reminder comes (T06, our choice, site parameter with this default)."""


def of_dwell(item: Standing, opened: OpenDwell, workflow: Workflow) -> list[Due]:
    """Returns the reminders of the dwell that runs, each counted from a scan's clocks plus a duration."""
    found = []
    cue_us = int(CUE_SHARE * (opened.film_s or 0) * SECOND_US)
    wetted_us = opened.wetted.mono_us - opened.started.mono_us
    if opened.film_s is not None and wetted_us + cue_us < opened.least_s * SECOND_US:
        found.append(_clocked(item, opened, "T03", ("rewet", f"wet-{wetted_us}"), opened.wetted, cue_us))
    if opened.dwell != "thermal":
        found += _met(item, opened, workflow)
    if opened.greatest_s is not None:
        lead_s = min(NEAR_S, (opened.greatest_s - opened.least_s) // 2)
        near_us = (opened.greatest_s - lead_s) * SECOND_US
        found.append(_clocked(item, opened, "T06", ("longest-near", "near"), opened.started, near_us))
        most_us = opened.greatest_s * SECOND_US
        found.append(_clocked(item, opened, "T06", ("longest-reached", "over"), opened.started, most_us))
    return found


def _met(item: Standing, opened: OpenDwell, workflow: Workflow) -> list[Due]:
    least_us = opened.least_s * SECOND_US
    if opened.dwell == "drying":
        return [_clocked(item, opened, "R02", ("dry-done", "met"), opened.started, least_us)]
    step = workflow.step_named(opened.step)
    within_s = step.dwell.confirm_within_s if step is not None and step.dwell is not None else None
    confirm_us = least_us + (CONFIRM_S if within_s is None else within_s) * SECOND_US
    return [
        _clocked(item, opened, "T17", ("time-met", "met"), opened.started, least_us),
        _clocked(item, opened, "T17", ("still-waits", "confirm"), opened.started, confirm_us),
    ]


def _clocked(item: Standing, opened: OpenDwell, rule: str, said: tuple[str, str], since: Moment, span_us: int) -> Due:
    say, which = said
    subject = stream(StreamKind.ITEM, item.item)
    counts = GREATEST if rule in {"T03", "T06"} else LEAST
    words: Words = {"say": say, "site": item.site, "item": item.item, "step": opened.step}
    return Due(
        key=key_of(rule, subject, str(opened.number), which),
        subject=subject,
        rule=rule,
        due_us=since.wall_us + span_us,
        severity=SOON if rule == "R02" else NOW,
        words=words | clock_words(since, span_us, counts),
    )
