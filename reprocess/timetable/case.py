"""The reminders of an exposure case: who decides it, and until when an authority may have to be told (H07).

The clock is that of a user facility under 21 CFR 803.30(a): no more than 10 work days after the day on which it
becomes aware (section 803.3 calls Monday to Friday work days, federal holidays left out; from memory). Holidays are
not known here, so that the day shown is never too late. Whether there is anything to report is a legal decision of
risk management.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from reprocess.record.cases import Case
from reprocess.terms import StreamKind, stream
from reprocess.timetable.days import at_hour, end_of_day, local_date
from reprocess.timetable.due import AHEAD, GRAVE, SOON, Due, Words, key_of

REPORT_WORK_DAYS: Final = 10
"""21 CFR 803.30(a)(1) and (2)."""
AHEAD_WORK_DAYS: Final = 3
"""Work days before that day on which it is brought to mind (our choice)."""
SATURDAY: Final = 5


def for_case(case: Case, site: str, zone: str) -> tuple[Due, ...]:
    """Returns every reminder that an open case calls for; a closed one calls for none.

    Args:
        case: where the case stands.
        site: where it is brought to mind, as the site's id.
        zone: the time zone of that site.
    """
    if not case.opened_us or case.closed_us is not None:
        return ()
    found = []
    if case.notify is None:
        cause = (str(case.asked_number), "undecided")
        found.append(_due(case, site, cause, case.asked_us, SOON, {"say": "case-undecided"}))
    if case.report is None:
        found += _of_report(case, site, zone)
    return tuple(found)


def report_day(aware: date) -> date:
    """Returns the last day on which a report is in time, when the facility became aware on `aware`."""
    return work_days_after(aware, REPORT_WORK_DAYS)


def work_days_after(day: date, count: int) -> date:
    """Returns the day that is so many work days after another, Monday to Friday; that day itself does not count."""
    while count > 0:
        day += timedelta(days=1)
        count -= day.weekday() < SATURDAY
    return day


def _of_report(case: Case, site: str, zone: str) -> list[Due]:
    aware = local_date(zone, case.asked_us)
    last = report_day(aware)
    words: Words = {"day": last.isoformat(), "at_us": end_of_day(zone, last), "say": "case-report"}
    cause = f"report-{case.asked_number}"
    ahead = at_hour(zone, work_days_after(aware, REPORT_WORK_DAYS - AHEAD_WORK_DAYS))
    return [
        _due(case, site, (cause, "ahead"), ahead, AHEAD, words),
        _due(case, site, (cause, "last"), at_hour(zone, last), GRAVE, {**words, "say": "case-report-last"}),
    ]


def _due(case: Case, site: str, cause: tuple[str, str], due_us: int, severity: int, words: Words) -> Due:
    subject = stream(StreamKind.CASE, case.case)
    held: Words = {"site": site, "case": case.case}
    return Due(key_of("H07", subject, *cause), subject, "H07", due_us, severity, held | words)
