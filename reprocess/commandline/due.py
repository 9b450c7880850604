"""`reprocess due`: what is overdue and what comes, and the acknowledgement of what rang."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Annotated, Any, Final

import typer

from reprocess.commandline.options import BadgeOption, DepartmentOption, JsonOption, StationOption, readable
from reprocess.errors import WrongUseError

UNITS: Final = {"m": 60, "h": 3600, "d": 86_400}
WITHIN_S_MAX: Final = 366 * 86_400


def due(
    within: Annotated[str, typer.Option("--within", help="How far ahead: 90m, 24h, 7d.")] = "24h",
    seen: Annotated[
        str | None,
        typer.Option("--seen", help="Acknowledge what rang: an item's id, a stream, or one reminder's key."),
    ] = None,
    health: Annotated[
        bool, typer.Option("--health", help="Tell whether a bell is at work; ends with 1 if not.")
    ] = False,
    quiet: Annotated[
        str | None,
        typer.Option("--quiet", help="Set a role's quiet hours at a site: supervisor=22:00-06:00, or supervisor=none."),
    ] = None,
    evaluated: Annotated[
        str | None, typer.Option("--evaluated", help="Record that a site's programme was evaluated: its reference.")
    ] = None,
    site: Annotated[str | None, typer.Option("--site", help="quiet, evaluated: the site; the station's.")] = None,
    badge: BadgeOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what is overdue and what comes, overdue first; or acknowledge a reminder that rang."""
    from reprocess.commandline.bells import told_health, told_site
    from reprocess.commandline.opening import department_at
    from reprocess.reminders.listing import coming
    from reprocess.reminders.rounds import see
    from reprocess.settings import Settings

    within_s = seconds_of(within)
    with department_at(department) as opened:
        if seen is not None:
            who = badge or Settings().badge
            if who is None:
                message = "Somebody must acknowledge it: name the badge with --as."
                raise WrongUseError(message)
            rang = [one.row.due.subject for one in coming(opened.ledger, opened.clock.now().wall_us, 0)]
            keys = see(opened.ledger, opened.clock, _asked(seen, rang), who)
            print(json.dumps({"seen": keys}) if as_json else f"Acknowledged: {len(keys)}.")
            return
        if quiet is not None or evaluated is not None:
            raise typer.Exit(told_site(opened, (quiet, evaluated, site), station, badge, as_json=as_json))
        now_us = opened.clock.now().wall_us
        healthy = told_health(opened.ledger, now_us, as_json=as_json, alone=health)
        if health:
            raise typer.Exit(0 if healthy else 1)
        listed = coming(opened.ledger, now_us, within_s)
    if as_json:
        print(json.dumps([_fields(one) for one in listed], ensure_ascii=False))
    else:
        print("\n".join(_line(one, now_us) for one in listed) or f"Nothing is due within {within}.")


def seconds_of(text: str) -> int:
    """Returns a span such as `90m`, `24h` or `7d` in seconds; a number alone is hours.

    Raises:
        WrongUseError: the text is no such span, or more than a year.
    """
    read = re.fullmatch(r"([0-9]{1,5})([mhd]?)", text)
    seconds = int(read[1]) * UNITS[read[2] or "h"] if read is not None else None
    if seconds is None or seconds > WITHIN_S_MAX:
        message = f"A span is written 90m, 24h or 7d, a year at most, not {text[:20]!r}."
        raise WrongUseError(message)
    return seconds


def _asked(text: str, rang: Sequence[str]) -> str:
    """Returns the key or stream that is meant; a bare id means what rings under that id, else an item."""
    from reprocess.terms import subject_of

    if "/" in text or ":" in text:
        return text
    name = readable(text)
    return next((stream for stream in rang if subject_of(stream) == name), f"item:{name}")


def _line(one: Any, now_us: int) -> str:
    from reprocess.commandline.say import local_in
    from reprocess.reminders.wording import lateness, sentence
    from reprocess.terms import SECOND_US, subject_of

    show = local_in(one.zone)
    row = one.row
    seconds = abs(one.deadline_us - now_us) // SECOND_US
    when = f"OVERDUE {lateness(seconds)}" if one.overdue else f"in {lateness(seconds)}"
    rang = "" if row.rang_us is None else "  rang, not acknowledged" if row.seen_us is None else "  acknowledged"
    subject = subject_of(row.due.subject)
    return f"{show(one.deadline_us)}  {when:<20} {subject:<12} {sentence(row.due, show)}  [{row.due.rule}]{rang}"


def _fields(one: Any) -> dict[str, Any]:
    from reprocess.commandline.say import local_in
    from reprocess.reminders.wording import sentence
    from reprocess.terms import as_text

    row = one.row
    return {
        "key": row.due.key,
        "rule": row.due.rule,
        "subject": row.due.subject,
        "severity": row.due.severity,
        "rings": as_text(row.due.due_us),
        "due": as_text(one.deadline_us),
        "overdue": one.overdue,
        "sentence": sentence(row.due, local_in(one.zone)),
        "rang": None if row.rang_us is None else as_text(row.rang_us),
        "seen": None if row.seen_us is None else as_text(row.seen_us),
        "escalated": None if row.escalated_us is None else as_text(row.escalated_us),
    }
