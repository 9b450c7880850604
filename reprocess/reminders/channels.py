"""Where reminders are given: a terminal, one line each, for people or as JSON; and what channels outside are handed."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable
from typing import Any

from reprocess.gathering import local
from reprocess.ledger.posts import Post
from reprocess.reminders.rounds import Deliver, Outside, Rang
from reprocess.reminders.wording import MARKS, lateness, sentence
from reprocess.terms import as_text, subject_of
from reprocess.timetable.chains import first_role

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


def outside(mailed: Collection[str], *, webhook: bool) -> Outside:
    """Returns what is kept for the channels outside of each reminder.

    Args:
        mailed: the roles that have an address.
        webhook: whether there is a webhook, which is handed everything.
    """

    def posts(rang: Rang) -> Iterable[Post]:
        found = ["email"] if role_of(rang) in mailed else []
        found += ["webhook"] if webhook else []
        return [Post(rang.due.key, name, rang.level, rang.site.site, message(rang)) for name in found]

    return posts


def role_of(rang: Rang) -> str:
    """Returns the role that a reminder is for, at its level."""
    return rang.to_role if rang.to_role is not None else first_role(rang.due)


def message(rang: Rang) -> str:
    """Returns what a channel outside is handed: what happened, when, and the reminder, as JSON."""
    what = "reminder.rang" if rang.to_role is None else "reminder.escalated"
    more = {"line": line(rang), "about": subject_of(rang.due.subject), "mark": mark(rang)}
    told = fields(rang) | more | {"to_role": role_of(rang), "level": rang.level, "stands_for": rang.keys[1:]}
    return json.dumps({"type": what, "timestamp": as_text(rang.at_us), "data": told}, ensure_ascii=False)


def mark(rang: Rang) -> str:
    """Returns how grave a reminder is, or whom it goes to because nobody acknowledged it."""
    return MARKS[rang.due.severity] if rang.to_role is None else f"TO {rang.to_role.upper()}"


def line(rang: Rang) -> str:
    """Returns a reminder as one line in the local time of its site."""
    parts = [_local(rang, rang.at_us), mark(rang), subject_of(rang.due.subject), said(rang), f"[{rang.due.rule}]"]
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
