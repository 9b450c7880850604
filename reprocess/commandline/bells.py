"""Whether a bell is at work, and what a site says about its reminders: quiet hours and the yearly evaluation."""

from __future__ import annotations

import json
import re
import sys
from typing import Final

from reprocess.commandline import say
from reprocess.commandline.opening import bench_at
from reprocess.department import Department
from reprocess.engine.enrolling import Enrol
from reprocess.errors import WrongUseError
from reprocess.ledger.open import Ledger
from reprocess.record.words import Body, ProgrammeEvaluated, QuietHoursSet
from reprocess.reminders.listing import Health, health_of
from reprocess.reminders.wording import lateness
from reprocess.terms import StreamKind, as_text, stream

HOURS: Final = re.compile(
    r"([a-z][a-z-]{0,39})=(?:([01][0-9]|2[0-3]):([0-5][0-9])-([01][0-9]|2[0-3]):([0-5][0-9])|none)"
)


def told_health(ledger: Ledger, now_us: int, *, as_json: bool, alone: bool) -> bool:
    """Tells how long ago a bell looked, and returns whether that is well; on standard output only where asked alone."""
    health = health_of(ledger, now_us)
    place = sys.stdout if alone else sys.stderr
    if as_json and alone:
        print(json.dumps(_fields(health)), file=place)
    elif not as_json:
        print(_sentence(health), file=place)
    return health.well


def _sentence(health: Health) -> str:
    start = "start `reprocess serve --reminders-only`."
    if health.age_s is None:
        return f"No bell ever looked here: {start}"
    waits = f"; {health.posts} reminders wait to be delivered" if health.posts else ""
    if not health.alive:
        return f"The bell last looked {lateness(health.age_s)} ago: {start}"
    if health.unrung:
        return f"The bell looked {health.age_s} s ago and {health.unrung} reminders did not ring: look at its terminal."
    return f"The bell looked {health.age_s} s ago{waits}."


def _fields(health: Health) -> dict[str, object]:
    swept = None if health.swept_us is None else as_text(health.swept_us)
    return {
        "well": health.well,
        "last_sweep": swept,
        "age_s": health.age_s,
        "unrung": health.unrung,
        "posts": health.posts,
    }


def told_site(
    opened: Department,
    asked: tuple[str | None, str | None, str | None],
    station: str | None,
    badge: str | None,
    *,
    as_json: bool,
) -> int:
    """Records what was said about a site's reminders, and returns the exit code.

    Args:
        opened: the department.
        asked: the quiet hours, the evaluation's reference, and the site where it is not the station's.
        station: where it is said.
        badge: by whom.
        as_json: whether the answer is printed as JSON.
    """
    quiet, evaluated, named = asked
    bench = bench_at(opened, station, badge, None)
    site = named or opened.site_of_station(bench.station)
    body: Body = _hours(quiet) if quiet is not None else ProgrammeEvaluated(reference=(evaluated or "")[:120])
    answer = bench.enrol(Enrol(stream(StreamKind.SITE, site), body))
    return say.tell(answer, say.local_in(opened.zone_of_site(site)), as_json=as_json)


def _hours(text: str) -> QuietHoursSet:
    read = HOURS.fullmatch(text)
    if read is None:
        message = f"Quiet hours are written supervisor=22:00-06:00 or supervisor=none, not {text[:40]!r}."
        raise WrongUseError(message)
    if read[2] is None:
        return QuietHoursSet(role=read[1])
    return QuietHoursSet(role=read[1], begins=f"{read[2]}:{read[3]}", ends=f"{read[4]}:{read[5]}")
