"""Where reminders are given: a terminal, one line each, for people or as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from reprocess.gathering import local
from reprocess.reminders.rounds import Deliver, Rang
from reprocess.reminders.wording import MARKS, lateness, sentence
from reprocess.terms import as_text, subject_of

Print = Callable[[str], object]


def terminal(write: Print) -> Deliver:
    """Returns a channel that writes one line a reminder: when, how grave, about what, what to do, how late."""

    def deliver(rang: Rang) -> bool:
        write(line(rang))
        return True

    return deliver


def json_lines(write: Print) -> Deliver:
    """Returns a channel that writes one JSON object a line."""

    def deliver(rang: Rang) -> bool:
        write(json.dumps(fields(rang), ensure_ascii=False))
        return True

    return deliver


def line(rang: Rang) -> str:
    """Returns a reminder as one line in the local time of its site."""
    mark = MARKS[rang.due.severity] if rang.to_role is None else f"TO {rang.to_role.upper()}"
    parts = [_local(rang, rang.at_us), mark, subject_of(rang.due.subject), said(rang), f"[{rang.due.rule}]"]
    if rang.to_role is not None:
        parts.append("nobody acknowledged it")
    if rang.late:
        parts.append(f"LATE by {lateness(rang.late_s)}")
    return "  ".join(parts)


def said(rang: Rang) -> str:
    """Returns the sentence of a reminder in the local time of its site."""
    return sentence(rang.due, lambda at_us: _local(rang, at_us))


def fields(rang: Rang) -> dict[str, Any]:
    """Returns a reminder as JSON values."""
    return {
        "key": rang.due.key,
        "rule": rang.due.rule,
        "subject": rang.due.subject,
        "severity": rang.due.severity,
        "due": as_text(rang.due.due_us),
        "at": as_text(rang.at_us),
        "late_s": rang.late_s,
        "late": rang.late,
        "to_role": rang.to_role,
        "sentence": said(rang),
    }


def _local(rang: Rang, at_us: int) -> str:
    return local(rang.site.zone, at_us).strftime("%a %d %b %H:%M:%S%z")
